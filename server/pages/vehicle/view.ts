import type { FeedRow, Finding, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { State } from '../../records/state.ts'
import { dateWords, figure } from '../../web/format.ts'
import { type FindingView, figuresOf, findingView, type ScaleView, scaleView } from '../shared/finding-view.ts'

type Row = {
  readonly name: string
  readonly href: string
  readonly kind: string
  readonly carries: string
  readonly verdict: string
  readonly used: string
  readonly scale: ScaleView | null
  readonly through: string
  readonly also: string
  readonly changed: string
  readonly stroke: number
  readonly fold: boolean
  readonly inside: readonly Row[]
}
export type View = {
  readonly id: string
  readonly on: string
  readonly asOf: string
  readonly isToday: boolean
  readonly nothing: string
  readonly unfinished: readonly { readonly key: string; readonly text: string; readonly since: string }[]
  readonly conditions: readonly { readonly name: string; readonly says: string }[]
  readonly findings: readonly FindingView[]
  readonly clearCount: number
  readonly rows: readonly Row[]
  readonly loose: readonly Row[]
  readonly stale: boolean
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: { readonly on: string; readonly isToday: boolean }
  readonly judged: { readonly document: VehicleDocument; readonly report: Report; readonly stale: boolean }
  readonly state: State
  readonly tree: readonly FeedRow[]
}): View {
  const { vehicle, day, judged, state, tree } = given
  const names = new Map(judged.document.components.map((component) => [component.key, component.name]))
  const name = (key: string) => names.get(key) ?? key
  const open = judged.report.findings.filter((finding) => finding.verdict !== 'clear')
  const roots = nest({ tree, name, judged, state, vehicleId: vehicle.id, on: day })
  return {
    id: vehicle.id,
    on: day.on,
    asOf: dateWords(day.on),
    isToday: day.isToday,
    nothing:
      judged.document.components.length > 0
        ? ''
        : vehicle.firstOn === null
          ? 'Nothing is recorded yet. Begin at the fuse box, or take in a vehicle document.'
          : `Nothing was recorded before ${dateWords(vehicle.firstOn)}.`,
    unfinished: [...state.unfinished.values()].map((one) => ({ key: one.key, text: one.text, since: dateWords(one.since) })),
    conditions: judged.report.conditions.map((condition) => ({
      name: condition.name,
      says: condition.solved
        ? `solved${condition.unfed.length > 0 ? `; without a feed: ${condition.unfed.map(name).join(', ')}` : ''}${condition.faults.map((fault) => ` ${fault}`).join('')}`
        : condition.faults.join(' '),
    })),
    findings: open.map((finding) => findingView(finding, { vehicleId: vehicle.id, name })),
    clearCount: judged.report.findings.length - open.length,
    rows: roots.filter((row) => row.inside.length > 0 || row.kind === 'battery'),
    loose: roots.filter((row) => row.inside.length === 0 && row.kind !== 'battery'),
    stale: judged.stale,
  }
}

function nest(given: {
  tree: readonly FeedRow[]
  name: (key: string) => string
  judged: { document: VehicleDocument; report: Report }
  state: State
  vehicleId: string
  on: { on: string; isToday: boolean }
}): readonly Row[] {
  const { tree, name, judged, state, vehicleId, on } = given
  const kinds = new Map(judged.document.parts.map((part) => [part.key, part.kind]))
  const kindOf = new Map(judged.document.components.map((component) => [component.key, kinds.get(component.part) ?? '']))
  const tightest = new Map<string, Finding>()
  for (const finding of judged.report.findings)
    if (!tightest.has(finding.component) && finding.rule !== 'rating-evidence') tightest.set(finding.component, finding)
  const yearAgo = `${Number(on.on.slice(0, 4)) - 1}${on.on.slice(4)}`
  const build = (row: FeedRow): Row => {
    const finding = tightest.get(row.component)
    const changed = state.fittedOn.get(row.component)
    const amps = Math.abs(row.current_A ?? 0)
    const kind = kindOf.get(row.component) ?? ''
    return {
      name: name(row.component),
      href: `/vehicles/${vehicleId}/components/${row.component}${on.isToday ? '' : `?on=${on.on}`}`,
      kind,
      carries: row.current_A === null ? '' : `${row.atLeast ? 'at least ' : ''}${figure(amps, 'A')}`,
      verdict: finding?.verdict ?? '',
      used: finding ? figuresOf(finding) : '',
      scale: finding && finding.verdict !== 'clear' ? scaleView(finding) : null,
      through: row.through.map(name).join(', '),
      also: row.alsoFedThrough.map(name).join(', '),
      changed: changed !== undefined && changed > yearAgo ? dateWords(changed) : '',
      stroke: Math.round(Math.min(7, 0.75 + Math.sqrt(amps) / 2.2) * 10) / 10,
      fold: kind === 'fuse' || kind === 'breaker',
      inside: tree.filter((one) => one.parent === row.component).map(build),
    }
  }
  return tree.filter((row) => row.parent === null).map(build)
}
