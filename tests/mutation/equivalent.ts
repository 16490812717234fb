/** Mutants that cannot change any verdict, each with the reason. An entry that a test catches, or that fits no mutant, is reported. */

export type Equivalent = { readonly unit: string; readonly what: string; readonly why: string }

const NOISE = 'they part only at one float, a share of exactly its limit times 1 + 10⁻⁹'

export const equivalents: readonly Equivalent[] = [
  { unit: 'check', what: 'over: 3: 3 → 4', why: 'the ranks are only compared: over stays the highest' },
  {
    unit: 'check',
    what: '(finding.used as number) > (doubtful.get(component)?.used ?? -1): > → >=',
    why: 'of two rules that use the same share, which one the doubt names',
  },
  { unit: 'check', what: 'doubtful.get(component)?.used ?? -1: -1 → -0', why: 'what is doubted uses more than nothing' },
  { unit: 'check', what: 'missing.length > 1: > → >=', why: 'one entry has no double' },
  { unit: 'check', what: 'missing.length > 1: 1 → 0', why: 'one entry has no double' },
  { unit: 'check', what: 'used > (reading.overAbove ?? 1) * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'used > tightAbove * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'used > 0.6 * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'value > 1e-9: > → >=', why: 'they part only at one float, 10⁻⁹ itself' },
  { unit: 'check', what: 'if (known): never', why: 'it only saves making the same lines again' },
  { unit: 'check', what: 'worst = -1: -1 → -0', why: 'every reading names a grade at least' },
  {
    unit: 'conductor-protection',
    what: 'overStands: limit.missing.length === 0: true',
    why: 'where the limit is missing there is no share to be over by',
  },
  {
    unit: 'contact-load',
    what: 'contact.current_A > 1e-9: 1e-9 → 1',
    why: 'of a relay’s contacts one carries at a time, and the ways of a switch share one rating',
  },
  {
    unit: 'rated-voltage',
    what: 'if (solved !== circuit.conditions[0]): never',
    why: 'it reads the same in every condition, and the first is told',
  },
]
