/** Mutants that cannot change any verdict, each with the reason. An entry that a test catches, or that fits no mutant, is reported. */

export type Equivalent = { readonly unit: string; readonly what: string; readonly why: string }

const STABLE = 'order alone: a stable sort that asks later against earlier leaves later where it is'
const NOISE = 'they part only at one float, a share of exactly its limit times 1 + 10⁻⁹'

export const equivalents: readonly Equivalent[] = [
  { unit: 'check', what: 'over: 3: 3 → 4', why: 'the ranks are only compared: over stays the highest' },
  {
    unit: 'check',
    what: '(finding.used as number) > (doubtful.get(component)?.used ?? -1): > → >=',
    why: 'of two rules that use the same share, which one the doubt names',
  },
  { unit: 'check', what: 'doubtful.get(component)?.used ?? -1: -1 → -0', why: 'what is doubted uses more than nothing' },
  { unit: 'check', what: 'used > (reading.overAbove ?? 1) * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'used > tightAbove * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'used > 0.6 * AT_LIMIT: > → >=', why: NOISE },
  { unit: 'check', what: 'value > 1e-9: > → >=', why: 'they part only at one float, 10⁻⁹ itself' },
  { unit: 'check', what: 'worst.missing.length > 1: > → >=', why: 'one entry has no double' },
  { unit: 'check', what: 'worst.missing.length > 1: 1 → 0', why: 'one entry has no double' },
  { unit: 'check', what: 'a.component < b.component: < → <=', why: 'no rule has two findings on one component' },
  { unit: 'check', what: 'a.component < b.component ? -1 : 1: 1 → 0', why: STABLE },
  { unit: 'check', what: 'first === second ? 0 : second - first: 0 → 1', why: STABLE },
  { unit: 'check', what: 'POORNESS[grade] > POORNESS[worst]: > → >=', why: 'of two grades alike it is the same one' },
  { unit: 'check', what: 'assumed: 4: 4 → 5', why: 'the grades are only compared: assumed stays the poorest' },
  {
    unit: 'check',
    what: "if (rule.judgedIn !== 'condition' && solved !== circuit.conditions[0]): never",
    why: 'it reads the same in every condition, and the first is told',
  },
  { unit: 'check', what: 'RANK[other.verdict] > RANK[one.verdict]: > → >=', why: 'no two verdicts rank alike' },
  { unit: 'check', what: 'if (known): never', why: 'it only saves making the same lines again' },
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
  { unit: 'fuse-placing', what: 'holds: !fails: true', why: 'whether it fails is asked first' },
  {
    unit: 'rated-voltage',
    what: 'if (solved !== circuit.conditions[0]): never',
    why: 'it reads the same in every condition, and the first is told',
  },
]
