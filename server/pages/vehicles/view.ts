import type { Report, Verdict } from '../../engine/report.ts'
import type { State } from '../../records/state.ts'
import type { VehicleFacts } from '../../records/vehicles.ts'
import { dateWords } from '../../web/format.ts'

export type View = {
  readonly vehicles: readonly {
    readonly id: string
    readonly name: string
    readonly system: string
    readonly odometer: string
    readonly worst: string
    readonly verdict: Verdict | 'nothing'
    readonly says: string
    readonly unfinished: readonly string[]
    readonly latest: readonly { readonly id: string; readonly when: string; readonly title: string }[]
  }[]
}

export function view(facts: readonly { readonly vehicle: VehicleFacts; readonly report: Report; readonly state: State }[]): View {
  return {
    vehicles: facts.map(({ vehicle, report, state }) => {
      const counts = (['over', 'tight', 'unknown'] as const)
        .map((verdict) => ({ verdict, count: report.findings.filter((finding) => finding.verdict === verdict).length }))
        .filter((one) => one.count > 0)
      const first = report.findings[0]
      return {
        id: vehicle.id,
        name: vehicle.name,
        system: `${vehicle.systemVoltage_V} V`,
        odometer: vehicle.odometer_km === null ? '' : `${vehicle.odometer_km} km`,
        worst:
          report.findings.length === 0
            ? 'nothing to judge yet'
            : counts.length === 0
              ? 'clear'
              : counts.map((one) => `${one.count} ${one.verdict}`).join(', '),
        verdict: first ? first.verdict : 'nothing',
        says: first && first.verdict !== 'clear' ? first.says : '',
        unfinished: [...state.unfinished.values()].map((one) => `${dateWords(one.since)}: ${one.text}`),
        latest: vehicle.latest.map((entry) => ({ id: entry.id, when: dateWords(entry.effectiveOn), title: entry.title })),
      }
    }),
  }
}
