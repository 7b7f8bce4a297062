// The few inputs that the page shows as sliders: which, in what words, over what range people meet. All else about them
// comes from the table. Bounds and steps are in the unit named; `us` is the same for people who use feet and Fahrenheit.

export const GROUPS = [
  {
    name: "Spray",
    inputs: [
      { key: "application.volume_rate", label: "Spray volume", unit: "L/m^2", low: 0.05, high: 0.6, step: 0.01, us: { unit: "qt / (100 ft^2)", low: 0.5, high: 6, step: 0.1 } },
      { key: "droplets.dv50", label: "Droplet size", unit: "um", low: 100, high: 600, step: 10, ends: ["fine", "coarse"] },
      { key: "liquid.surface_tension", label: "Surface tension", unit: "mN/m", low: 28, high: 72, step: 1, ends: ["wetting agent", "water"] },
    ],
  },
  {
    name: "Crop",
    inputs: [
      { key: "canopy.leaf_area", label: "Leaf area of a plant", unit: "cm^2", low: 50, high: 2000, step: 10, us: { unit: "inch^2", low: 8, high: 310, step: 1 } },
      { key: "canopy.crown_cover", label: "Bench covered by crowns", unit: "percent", low: 20, high: 100, step: 1 },
      { key: "leaf.width", label: "Width of a leaf", unit: "cm", low: 0.5, high: 15, step: 0.1, us: { unit: "inch", low: 0.2, high: 6, step: 0.1 } },
    ],
  },
  {
    name: "House",
    inputs: [
      { key: "air.speed", label: "Air speed at the crop", unit: "m/s", low: 0.02, high: 1.2, step: 0.01, us: { unit: "ft/min", low: 4, high: 240, step: 1 }, ends: ["still", "fans"] },
      { key: "house.air_changes", label: "Air changes of the house", unit: "1/hour", low: 0.2, high: 40, step: 0.2, ends: ["closed", "vents"] },
      { key: "house.sprayed_share", label: "Share of the floor sprayed at once", unit: "percent", low: 0, high: 100, step: 5, ends: ["a bench", "all"] },
    ],
  },
];

/** Sliders of the day. They are no inputs of a scenario: a weather record carries them. In SI inside. */
export const DAY = [
  { key: "coolest", label: "Coolest air, at 03:00", si: "K", unit: "degC", low: 8, high: 28, step: 0.5, standard: 289.15, us: { unit: "degF", low: 46, high: 82, step: 1 }, made: true },
  { key: "warmest", label: "Warmest air, at 15:00", si: "K", unit: "degC", low: 10, high: 40, step: 0.5, standard: 301.15, us: { unit: "degF", low: 50, high: 104, step: 1 }, made: true },
  { key: "humidity", label: "Humidity of the coolest air", si: "1", unit: "percent", low: 30, high: 99, step: 1, standard: 0.9, made: true },
  { key: "noon", label: "Light on the crop at noon", si: "W/m^2", unit: "W/m^2", low: 0, high: 900, step: 10, standard: 400 },
];

/** How units are written for people. */
export const WRITTEN = { "L/m^2": "L/m²", "qt / (100 ft^2)": "qt per 100 ft²", um: "µm", "cm^2": "cm²", "inch^2": "in²", inch: "in", percent: "%", "1/hour": "per hour", "W/m^2": "W/m²", degC: "°C", degF: "°F" };
