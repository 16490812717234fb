import type { Report } from '../../engine/report.ts'
import { rules } from '../../engine/rules/index.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { type DayView, dayView } from '../shared/day-view.ts'
import { type FindingView, findingView } from '../shared/finding-view.ts'
import { type Option, option } from '../shared/options.ts'
import { pageOf } from '../shared/paging.ts'
import { ruleHref } from '../shared/rule-words.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly verdicts: readonly Option[]
  readonly rules: readonly Option[]
  readonly why: string
  readonly rule: { readonly href: string; readonly words: string }
  readonly findings: readonly FindingView[]
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
  const { findings } = judged.report
  const names = new Map(judged.document.components.map((component) => [component.key, component.name]))
  const verdict = ['over', 'tight', 'unknown', 'clear', 'all'].find((one) => one === query.verdict) ?? 'open'
  const rule = rules.find((one) => one.id === query.rule)
  const wanted = findings.filter(
    (one) =>
      (rule === undefined || one.rule === rule.id) &&
      (verdict === 'all' || (verdict === 'open' ? one.verdict !== 'clear' : one.verdict === verdict)),
  )
  const paged = pageOf(wanted, {
    asked: query.page,
    things: ['finding', 'findings'],
    address: (to) =>
      `/vehicles/${vehicle.id}/findings?verdict=${verdict}${rule ? `&rule=${rule.id}` : ''}${day.isToday ? '' : `&on=${day.on}`}&page=${to}`,
  })
  const count = (kind: string) =>
    findings.filter((one) => (kind === 'open' ? one.verdict !== 'clear' : kind === 'all' || one.verdict === kind)).length
  const labels: Readonly<Record<string, string>> = { open: 'not clear', all: 'every one' }
  return {
    id: vehicle.id,
    day: dayView(day, {
      vehicle,
      path: `/vehicles/${vehicle.id}/findings`,
      kept: { verdict: verdict === 'open' ? '' : verdict, rule: rule?.id ?? '' },
    }),
    verdicts: ['open', 'over', 'tight', 'unknown', 'clear', 'all'].map((one) =>
      option(one, `${labels[one] ?? one} (${count(one)})`, verdict),
    ),
    rules: rules.map((one) => option(one.id, one.title, rule?.id ?? '')),
    why: rule?.why ?? '',
    rule: rule ? { href: ruleHref(rule.id), words: 'This rule, with its formula and sources' } : { href: '/rules', words: 'All the rules' },
    findings: paged.shown.map((finding) =>
      findingView(finding, {
        vehicleId: vehicle.id,
        name: (key) => names.get(key) ?? key,
        report: judged.report,
        query: day.isToday ? '' : `?on=${day.on}`,
      }),
    ),
    count: `${paged.count}, worst first`,
    earlier: paged.before,
    later: paged.after,
  }
}
