/** The scale as drawn: a rule ticked at tenths, the fill, what it may be at most, where it stood before, and the verdict's mark. */
import type { Finding, Verdict } from '../../engine/report.ts'

export type ScaleView = {
  readonly label: string
  readonly verdict: Verdict
  readonly rule: string
  readonly fill: string
  readonly hatch: string
  readonly ghost: string
  readonly mark: string
  /** the mark is drawn as a line, not filled */
  readonly open: boolean
}

/** Units of the drawing: the rule ends at the limit; the fill may break out as far as `FURTHEST`; the mark stands beyond. */
const LENGTH = 150
const FURTHEST = 176

/** `was`: the share used before the entry at hand. `atMost`: the share it may be, where loads of unknown current lie behind. */
export function scaleView(
  finding: Finding,
  given: { readonly was?: number | null | undefined; readonly atMost?: number | null } = {},
): ScaleView | null {
  const { used } = finding
  if (used === null || finding.limit === null) return null
  const end = Math.max(1, finding.overAbove ?? 1)
  const x = (share: number) => round(Math.min(FURTHEST, (LENGTH * share) / end))
  const atMost = given.atMost === undefined || given.atMost === null || given.atMost <= used ? null : given.atMost
  return {
    label: [
      `${percent(used)} of the limit: ${finding.verdict}`,
      atMost === null ? '' : `at most ${percent(atMost)}`,
      given.was === undefined || given.was === null ? '' : `stood at ${percent(given.was)} before`,
    ]
      .filter((one) => one !== '')
      .join('; '),
    verdict: finding.verdict,
    rule: ruleOf([finding.tightAbove, finding.overAbove].flatMap((share) => (share === null ? [] : [x(share)]))),
    fill: fillOf(x(used)),
    hatch: atMost === null ? '' : hatchOf({ from: x(used), to: x(atMost) }),
    ghost: given.was === undefined || given.was === null ? '' : `M${x(given.was)} 0V16`,
    mark: MARKS[finding.verdict],
    open: finding.verdict === 'unknown' || finding.verdict === 'clear',
  }
}

/** A filled triangle on its point, a half-filled one, an outline with a gap, a thin tick. */
const MARKS: Readonly<Record<Verdict, string>> = {
  over: 'M184 2h14l-7 12z',
  tight: 'M184 2h14l-7 12zM186.6 3.5h4.4v7.6z',
  unknown: 'M195.8 4.6a5.5 5.5 0 1 0 .7 3.4',
  clear: 'M185 9l4 4l8-11',
}

function ruleOf(thresholds: readonly number[]): string {
  const ticks = Array.from({ length: 11 }, (_, n) => `M${(LENGTH * n) / 10} 12v${n % 5 === 0 ? 4 : 2.5}`)
  return [`M0 12H${LENGTH}`, ...ticks, ...[...new Set(thresholds)].map((at) => `M${at} 2V16`)].join('')
}

/** Past the end of the rule the fill is broader: it breaks out. */
function fillOf(to: number): string {
  const at = Math.max(1, to)
  return at <= LENGTH ? `M0 6H${at}V11H0z` : `M0 6H${LENGTH}V3H${at - 4}L${at} 8L${at - 4} 13H${LENGTH}V11H0z`
}

function hatchOf(given: { readonly from: number; readonly to: number }): string {
  const { from, to } = given
  const strokes: string[] = []
  for (let at = from; at + 5 <= to; at += 4) strokes.push(`M${round(at)} 11l5-5`)
  return `${strokes.join('')}M${to} 5V12`
}

function percent(share: number): string {
  return share > 99 ? 'far over 100 %' : `${Math.round(share * 100)} %`
}

function round(value: number): number {
  return Math.round(value * 10) / 10
}
