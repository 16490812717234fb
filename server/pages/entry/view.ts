import type { Finding, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { SavedEntry } from '../../records/contract.ts'
import { dateWords, figureOr, money } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type FindingView, figuresOf, findingView } from '../shared/finding-view.ts'

export type View = {
  readonly id: string
  readonly vehicleId: string
  readonly vehicle: string
  readonly facts: string
  readonly text: string
  readonly withdrawn: boolean
  readonly sentences: readonly string[]
  readonly lead: string
  readonly appeared: readonly FindingView[]
  readonly cleared: readonly string[]
  readonly changed: readonly string[]
  readonly thenAndNow: readonly { readonly says: string; readonly was: string; readonly now: string }[]
  readonly faults: readonly ShownFault[]
}

export function view(given: {
  readonly entry: SavedEntry
  readonly vehicle: { readonly id: string; readonly name: string }
  readonly document: VehicleDocument
  readonly report: Report
  readonly faults: readonly ShownFault[]
}): View {
  const { entry, vehicle, document, report } = given
  const name = (key: string) => document.components.find((one) => one.key === key)?.name ?? key
  const shown = entry.shown
  const tightest = shown?.tightestClear
  const nowOf = (finding: Finding) => report.findings.find((one) => one.rule === finding.rule && one.component === finding.component)
  return {
    id: entry.id,
    vehicleId: vehicle.id,
    vehicle: vehicle.name,
    facts: [
      dateWords(entry.effectiveOn),
      entry.odometer_km === null ? '' : `${entry.odometer_km} km`,
      entry.cost_minor === null ? '' : `cost ${money(entry.cost_minor)}`,
      `by ${entry.author}, recorded ${dateWords(entry.recordedAt.slice(0, 10))}`,
    ]
      .filter((one) => one !== '')
      .join(' · '),
    text: entry.text,
    withdrawn: entry.withdrawn,
    sentences: entry.sentences,
    lead: !shown
      ? ''
      : shown.appeared.length > 0
        ? `${shown.appeared.length === 1 ? 'One finding is new' : `${shown.appeared.length} findings are new`}.`
        : `Nothing gave way.${tightest ? ` Tightest: ${name(tightest.component)}, ${figuresOf(tightest)}.` : ''}`,
    appeared: (shown?.appeared ?? []).map((finding) => findingView(finding, { vehicleId: vehicle.id, name })),
    cleared: (shown?.cleared ?? []).map((finding) => `${name(finding.component)}: was ${finding.verdict}. ${finding.says}`),
    changed: (shown?.changed ?? [])
      .slice(0, 30)
      .map(({ before, after }) => `${after.says} Before: ${figureOr(before.value, before.unit)}.`),
    thenAndNow: (shown?.findings ?? []).slice(0, 40).map((finding) => {
      const now = nowOf(finding)
      return {
        says: finding.says,
        was: `${finding.verdict} ${figuresOf(finding)}`,
        now: now ? `${now.verdict} ${figuresOf(now)}` : 'no longer judged',
      }
    }),
    faults: given.faults,
  }
}
