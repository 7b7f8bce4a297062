// What can go wrong for a person: one type per failure, each message one line.

/** An input that is not allowed; the message says what was given, what is allowed, and the nearest name. */
export class InputError extends Error {
  name = "InputError";
}

/** An integration that could not be finished within its step bounds. */
export class IntegrationError extends Error {
  name = "IntegrationError";
}
