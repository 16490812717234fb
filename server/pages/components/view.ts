import { partKind } from '../../engine/parts/index.ts'
import type { Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { type DayView, dayView } from '../shared/day-view.ts'
import { pageOf } from '../shared/paging.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly sought: string
  readonly rows: readonly {
    readonly name: string
    readonly href: string
    readonly kind: string
    readonly part: string
    readonly partHref: string
    readonly verdict: string
  }[]
  readonly count: string
  readonly earlier: string
  readonly later: string
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly judged: { readonly document: VehicleDocument; readonly report: Report }
  readonly query: Readonly<Record<string, unknown>>
}): View {
  const { vehicle, day, judged, query } = given
  const sought = typeof query.contains === 'string' ? query.contains.trim().slice(0, 100) : ''
  const parts = new Map(judged.document.parts.map((part) => [part.key, part]))
  const worst = new Map<string, string>()
  for (const finding of judged.report.findings) if (!worst.has(finding.component)) worst.set(finding.component, finding.verdict)
  const found = judged.document.components
    .map((component) => {
      const part = parts.get(component.part)
      return {
        name: component.name,
        href: `/vehicles/${vehicle.id}/components/${component.key}${day.isToday ? '' : `?on=${day.on}`}`,
        kind: partKind(part?.kind ?? '')?.title ?? '',
        part: part?.name ?? '',
        partHref: `/parts/${component.part}`,
        verdict: worst.get(component.key) ?? '',
      }
    })
    .filter((row) => `${row.name}\n${row.kind}\n${row.part}`.toLowerCase().includes(sought.toLowerCase()))
    .sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }))
  const { shown, count, before, after } = pageOf(found, {
    asked: query.page,
    things: ['component', 'components'],
    address: (to) =>
      `/vehicles/${vehicle.id}/components?page=${to}${sought === '' ? '' : `&contains=${encodeURIComponent(sought)}`}${day.isToday ? '' : `&on=${day.on}`}`,
  })
  return {
    id: vehicle.id,
    day: dayView(day, { vehicle, path: `/vehicles/${vehicle.id}/components`, kept: { contains: sought } }),
    sought,
    rows: shown,
    count,
    earlier: before,
    later: after,
  }
}
