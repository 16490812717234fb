/** How many amperes more before a rule says over. Each try asks all the rules again, so few are made: where the limit lies is foreseen. */
import type { Finding } from './report.ts'
import { ratingEvidence } from './rules/rating-evidence.ts'

/** What a trial load of so many amperes comes to. */
export type Tried = {
  /** the finding that gives way, or null */
  readonly over: Finding | null
  readonly findings: readonly Finding[]
  /** conditions that have a working point: with one fewer, that nothing gives way tells nothing */
  readonly solved: number
}
export type Limit = { readonly low_A: number; readonly high_A: number; readonly over: Finding }

const FIRST_A = 4
const MOST_A = 2048
const WITHIN_A = 0.02
const HALVINGS = 12
/** Tries spent on foreseeing; three are enough for a straight line. */
const FORESEEN = 6

/**
 * The stretch the limit lies in, at most `WITHIN_A` wide; null where nothing gives way up to `MOST_A`. The limit is looked for by doubling
 * and then halving. What is tried first is where that search would end if every rule's share went on in a straight line; once both ends are found to
 * be as foreseen, what is below the one and above the other need not be tried: a load that gives way goes on doing so as it grows.
 */
export function limitOf(start: Tried, tryLoad: (current_A: number) => Tried): Limit | null {
  const tries = new Map<number, Tried>()
  const at = (current_A: number): Tried => {
    const known = tries.get(current_A)
    if (known) return known
    const made = tryLoad(current_A)
    tries.set(current_A, made)
    return made
  }
  const bracket = foresee(start, at)
  const gives = (current_A: number): boolean => {
    if (current_A <= bracket.low_A) return false
    if (current_A >= bracket.high_A) return true
    return at(current_A).over !== null
  }
  const found = walk(gives)
  const over = found && at(found.high_A).over
  return found && over ? { ...found, over } : null
}

type Stretch = { readonly low_A: number; readonly high_A: number }

/** The search itself: doubling, then halving. */
function walk(gives: (current_A: number) => boolean): Stretch | null {
  let low_A = 0
  let high_A = FIRST_A
  while (!gives(high_A)) {
    low_A = high_A
    high_A *= 2
    if (high_A > MOST_A) return null
  }
  for (let n = 0; n < HALVINGS && high_A - low_A > WITHIN_A; n++) {
    const middle_A = (low_A + high_A) / 2
    if (gives(middle_A)) high_A = middle_A
    else low_A = middle_A
  }
  return { low_A, high_A }
}

/** Up to where nothing gives way, and from where on something does, as far as a few tries tell. */
function foresee(start: Tried, at: (current_A: number) => Tried): Stretch {
  let below: Point = { current_A: 0, tried: start }
  let low = below
  let high: Point | null = null
  const stretch = (): Stretch => ({ low_A: low.current_A, high_A: high?.current_A ?? Number.POSITIVE_INFINITY })
  let next_A: number | null = FIRST_A
  for (let n = 0; n < FORESEEN && next_A !== null; n++) {
    const point: Point = { current_A: next_A, tried: at(next_A) }
    if (point.tried.over !== null) high = point
    // A rule that judges no more may have been over on the way there: that nothing is over there tells nothing of what lies below.
    else if (point.tried.solved < start.solved || losesRule(start, point.tried)) break
    else {
      below = low
      low = point
    }
    const { low_A, high_A } = stretch()
    const crossing_A = high === null ? crossingOf(below, low) : crossingOf(low, high)
    const end = walk((current_A) => current_A > low_A && (current_A >= high_A || current_A >= crossing_A))
    next_A = end === null ? null : end.high_A < high_A ? end.high_A : end.low_A > low_A ? end.low_A : null
  }
  return stretch()
}

type Point = { readonly current_A: number; readonly tried: Tried }

/** Whether a rule that judged something cannot judge it any more. */
function losesRule(start: Tried, tried: Tried): boolean {
  const judged = new Set(start.findings.filter(({ verdict }) => verdict !== 'unknown').map(({ rule, component }) => `${rule} ${component}`))
  return tried.findings.some(
    // How well a figure is known is never over.
    ({ rule, component, verdict }) => rule !== ratingEvidence.id && verdict === 'unknown' && judged.has(`${rule} ${component}`),
  )
}

/** Where the first share reaches what is over, if each goes on in a straight line through both points. */
function crossingOf(from: Point, to: Point): number {
  const shares = new Map(from.tried.findings.map((finding) => [`${finding.rule} ${finding.component}`, finding.used]))
  let first_A = Number.POSITIVE_INFINITY
  for (const { rule, component, used, overAbove, verdict } of to.tried.findings) {
    const was = shares.get(`${rule} ${component}`)
    // How well a figure is known is never over, and no more is what is past its limit and still not said to be.
    if (rule === ratingEvidence.id || verdict === 'unknown') continue
    if (used === null || overAbove === null || was === undefined || was === null || was > overAbove) continue
    if (used > overAbove && verdict !== 'over') continue
    const rise_perA = (used - was) / (to.current_A - from.current_A)
    if (rise_perA > 1e-9) first_A = Math.min(first_A, from.current_A + (overAbove - was) / rise_perA)
  }
  return first_A
}
