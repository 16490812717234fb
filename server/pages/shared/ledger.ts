/** The feed ledger as rows: source first, as deep as a page can hold; what does not fit becomes a link to the branch. */
import type { FeedRow, Finding, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { dateWords, figure } from '../../web/format.ts'
import { figuresOf, isInked, mostUsed } from './finding-view.ts'
import { type ScaleView, scaleView } from './scale.ts'

export type LedgerRow = {
  readonly name: string
  readonly href: string
  readonly flow: string
  readonly used: string
  readonly inked: boolean
  readonly verdict: string
  readonly word: string
  readonly scale: ScaleView | null
  readonly through: readonly { readonly name: string; readonly href: string }[]
  readonly notes: string
  readonly stroke: number
  readonly folds: string
  readonly more: string
  readonly inside: readonly LedgerRow[]
}
export type LedgerGiven = {
  readonly tree: readonly FeedRow[]
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  /** when a component, or its part, last changed */
  readonly changedOn: ReadonlyMap<string, string>
  readonly on: string
  readonly href: (component: string) => string
  /** rows the page can hold */
  readonly most: number
}

const SOURCES = ['battery', 'alternator', 'charger', 'converter']
const PROTECTIVE = ['fuse', 'breaker']

/** The rows below `root`, or from the sources on. */
export function ledgerRows(given: LedgerGiven, root: string | null = null): readonly LedgerRow[] {
  const { tree, judged } = given
  const childrenOf = new Map<string | null, FeedRow[]>()
  for (const row of tree) childrenOf.set(row.parent, [...(childrenOf.get(row.parent) ?? []), row])
  const below = (key: string | null) => childrenOf.get(key) ?? []
  const size = (key: string): number => below(key).reduce((sum, row) => sum + 1 + size(row.component), 0)
  const kindOf = kindsOf(judged.document)
  const names = new Map(judged.document.components.map((component) => [component.key, component.name]))
  const name = (key: string) => names.get(key) ?? key
  const findings = findingsByComponent(judged.report)
  const first = root === null ? below(null).filter((row) => isFed(row, below, kindOf)) : below(root)
  const shown = withinBudget(first, below, given.most)
  const yearAgo = `${Number(given.on.slice(0, 4)) - 1}${given.on.slice(4)}`
  const build = (row: FeedRow): LedgerRow => {
    const kind = kindOf.get(row.component) ?? ''
    const inside = below(row.component)
      .filter((one) => shown.has(one.component))
      .map(build)
    const hidden = below(row.component)
      .filter((one) => !shown.has(one.component))
      .reduce((sum, one) => sum + 1 + size(one.component), 0)
    const finding = rowFinding([row.component, ...row.through].flatMap((key) => findings.get(key) ?? []))
    const amps = Math.abs(row.current_A ?? 0)
    const changed = given.changedOn.get(row.component)
    const own = finding?.component === row.component
    return {
      name: name(row.component),
      href: given.href(row.component),
      flow: flowOf(row, kind),
      used: finding ? figuresOf(finding) : '',
      inked: finding ? isInked(finding.evidence) : true,
      verdict: finding && finding.verdict !== 'clear' ? finding.verdict : '',
      word: finding && finding.verdict !== 'clear' ? (own ? pencil(finding) : `${name(finding.component)}${pencil(finding)}`) : '',
      scale: finding ? scaleView(finding, { atMost: mostUsed(finding, judged.report) }) : null,
      through: row.through.map((key) => ({ name: name(key), href: given.href(key) })),
      notes: [
        row.alsoFedThrough.length > 0 ? `also fed through ${row.alsoFedThrough.map(name).join(', ')}` : '',
        changed !== undefined && changed > yearAgo ? `changed ${dateWords(changed)}` : '',
      ]
        .filter((one) => one !== '')
        .join(' · '),
      stroke: Math.round(Math.min(7, 0.75 + Math.sqrt(amps) / 2.2) * 10) / 10,
      folds: PROTECTIVE.includes(kind) && inside.length > 0 && !holdsProtective(row.component, below, kindOf) ? foldWords(inside) : '',
      more: hidden === 0 ? '' : `${hidden} more`,
      inside,
    }
  }
  return first.filter((row) => shown.has(row.component)).map(build)
}

/** What no feed reaches in the ledger: returns, grounds, and what is fed by nothing. Worst first. */
export function looseRows(given: LedgerGiven): readonly FeedRow[] {
  const childrenOf = new Map<string | null, FeedRow[]>()
  for (const row of given.tree) childrenOf.set(row.parent, [...(childrenOf.get(row.parent) ?? []), row])
  const kindOf = kindsOf(given.judged.document)
  return (childrenOf.get(null) ?? []).filter((row) => !isFed(row, (key) => childrenOf.get(key) ?? [], kindOf))
}

/** The condition a ledger shows if none is asked for: of those with the starter at rest, the one in which loads draw most. */
export function usualCondition(document: VehicleDocument, report: Report): number {
  const kindOf = kindsOf(document)
  const cranking = new Set((document.conditions ?? []).flatMap((one) => (one.engine === 'cranking' ? [one.key] : [])))
  const drawn = report.conditions.map((condition) =>
    condition.solved && !cranking.has(condition.key)
      ? Object.entries(condition.components).reduce(
          (sum, [key, one]) => sum + (['load', 'pump'].includes(kindOf.get(key) ?? '') ? Math.abs(one.current_A ?? 0) : 0),
          0,
        )
      : -1,
  )
  return Math.max(0, drawn.indexOf(Math.max(...drawn)))
}

/** Level by level, so that every branch is seen before any is seen whole. */
function withinBudget(first: readonly FeedRow[], below: (key: string) => readonly FeedRow[], most: number): ReadonlySet<string> {
  const shown = new Set<string>()
  for (let level = first; level.length > 0; level = level.flatMap((row) => below(row.component)))
    for (const row of level) {
      if (shown.size >= most) return shown
      if (row.parent === null || shown.has(row.parent) || first.includes(row)) shown.add(row.component)
    }
  return shown
}

function isFed(row: FeedRow, below: (key: string) => readonly FeedRow[], kindOf: ReadonlyMap<string, string>): boolean {
  return below(row.component).length > 0 || SOURCES.includes(kindOf.get(row.component) ?? '')
}

function holdsProtective(key: string, below: (key: string) => readonly FeedRow[], kindOf: ReadonlyMap<string, string>): boolean {
  return below(key).some((row) => PROTECTIVE.includes(kindOf.get(row.component) ?? '') || holdsProtective(row.component, below, kindOf))
}

/** What is not clear first (worst first); of clear ones the fullest that is a current carried. A guess about evidence is not a load. */
function rowFinding(findings: readonly Finding[]): Finding | undefined {
  const judged = findings.filter((finding) => finding.rule !== 'rating-evidence')
  const carried = (finding: Finding) => finding.unit === 'A' && finding.rule !== 'conductor-protection'
  const rank = (finding: Finding) => ['over', 'tight', 'unknown', 'clear'].indexOf(finding.verdict) * 2 + (carried(finding) ? 0 : 1)
  return [...judged].sort((a, b) => rank(a) - rank(b) || (b.used ?? -1) - (a.used ?? -1))[0]
}

function findingsByComponent(report: Report): ReadonlyMap<string, readonly Finding[]> {
  const found = new Map<string, Finding[]>()
  for (const finding of report.findings) found.set(finding.component, [...(found.get(finding.component) ?? []), finding])
  return found
}

function kindsOf(document: VehicleDocument): ReadonlyMap<string, string> {
  const kinds = new Map(document.parts.map((part) => [part.key, part.kind]))
  return new Map(document.components.map((component) => [component.key, kinds.get(component.part) ?? '']))
}

function flowOf(row: FeedRow, kind: string): string {
  if (row.current_A === null) return ''
  const words = figure(Math.abs(row.current_A), 'A')
  if ((kind === 'battery' || kind === 'alternator') && Math.abs(row.current_A) > 0.005)
    return row.current_A < 0 ? `gives ${words}` : `takes ${words}`
  return `${row.atLeast ? '≥ ' : ''}${words}`
}

function pencil(finding: Finding): string {
  return isInked(finding.evidence) ? '' : ` ${finding.evidence}`
}

function foldWords(inside: readonly LedgerRow[]): string {
  const all = (rows: readonly LedgerRow[]): readonly LedgerRow[] => rows.flatMap((row) => [row, ...all(row.inside)])
  const rows = all(inside)
  const worst = ['over', 'tight', 'unknown'].find((verdict) => rows.some((row) => row.verdict === verdict))
  return `${rows.length} behind it${worst ? `, one ${worst}` : ''}`
}
