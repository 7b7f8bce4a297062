"""The usual cautions, shown beside anything that shows a rate or a dose."""

CAUTIONS = (
    "This is an estimate, not a prescription. The product label and local regulations rule; wear the "
    "protective equipment and keep the re-entry interval they ask for; test on a few plants first; licensed "
    "practice decides."
)
#: The same in a line, which stands under pictures: they are passed on without the text beside them.
SHORT_CAUTION = (
    "An estimate, not a prescription: the label and local rules decide; test on a few plants first."
)
