/** FAA AC 43.13-1B (CHG 1) Table 11-4: switch rating = continuous load current × factor. Read. Electronics: 2, by choice. */
const FACTORS: Readonly<Record<string, { readonly at12V: number; readonly at28V: number }>> = {
  lamp: { at12V: 5, at28V: 8 },
  inductive: { at12V: 2, at28V: 4 },
  resistive: { at12V: 1, at28V: 2 },
  motor: { at12V: 2, at28V: 3 },
  electronic: { at12V: 2, at28V: 2 },
}

/** The factor for a load's nature: the 12 V row up to 16 V, the 28 V row above. Null for a nature not stated. */
export function switchFactor(nature: string | null, nominal_V: number): number | null {
  const row = nature === null ? undefined : FACTORS[nature]
  return row ? (nominal_V <= 16 ? row.at12V : row.at28V) : null
}

/** The largest factor any nature has at that voltage: what a load of unknown nature may need. */
export function worstFactor(nominal_V: number): number {
  return Math.max(...Object.keys(FACTORS).map((nature) => switchFactor(nature, nominal_V) as number))
}
