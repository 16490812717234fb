/** The first page: what the vehicle is and what is open on it. */
import type { Report } from '../../../engine/report.ts'
import { type Identity, identityFor, judgedFor, type Open, openFor } from '../../../records/build-page.ts'
import { dateWords, figure, kilometres } from '../../../web/format.ts'
import { figuresOf, ruleTitle, verdictsOf, worstWords } from '../../shared/finding-view.ts'
import { leftWords } from '../../shared/left-words.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly facts: readonly { readonly label: string; readonly value: string }[]
  readonly fitted: readonly { readonly what: string; readonly count: string }[]
  readonly lead: string
  readonly worst: readonly { readonly verdict: string; readonly name: string; readonly figures: string; readonly what: string }[]
  readonly notKnown: string
  readonly toDo: readonly { readonly what: string; readonly when: string }[]
}

const MOST = 5

export const overview = defineScope({
  id: 'overview',
  title: 'Overview',
  says: 'make, model, system, odometer, what is fitted in numbers, what is open',
  presets: ['buyer', 'workshop'],
  template: '/b/front',
  view({ db, share }): View {
    const { document, report } = judgedFor(db, share)
    const names = new Map(document.components.map(({ key, name }) => [key, name]))
    const kinds = new Map(document.parts.map(({ key, kind }) => [key, kind]))
    const count = (...of: readonly string[]) => document.components.filter((one) => of.includes(kinds.get(one.part) ?? '')).length
    const verdicts = verdictsOf(report)
    return {
      facts: factsOf(identityFor(db, share)),
      fitted: [
        { what: 'components in all', count: String(document.components.length) },
        { what: 'loads and pumps', count: String(count('load', 'pump')) },
        { what: 'fuses and breakers', count: String(count('fuse', 'breaker')) },
        { what: 'conductors', count: String(count('conductor')) },
      ],
      lead:
        document.components.length === 0 ? 'No wiring is recorded yet.' : `The check judged ${judged(report)}: ${worstWords(verdicts)}.`,
      worst: report.findings
        .filter((one) => one.verdict === 'over' || one.verdict === 'tight')
        .slice(0, MOST)
        .map((one) => ({
          verdict: one.verdict,
          name: names.get(one.component) ?? 'a component',
          figures: figuresOf(one),
          what: ruleTitle(one.rule),
        })),
      notKnown:
        verdicts.unknown === 0
          ? ''
          : `${verdicts.unknown} could not be judged because a figure is not known. Not known is not passed: each is to be looked at before it is relied on.`,
      toDo: toDoOf(openFor(db, share)),
    }
  },
})

/** "148 things in 4 conditions". */
function judged(report: Report): string {
  const { findings, conditions } = report
  return `${findings.length} ${findings.length === 1 ? 'thing' : 'things'} in ${conditions.length} ${conditions.length === 1 ? 'condition' : 'conditions'}`
}

function factsOf(identity: Identity): View['facts'] {
  const { vin, plate, keptAt, odometer, left, firstOn } = identity
  return [
    { label: 'Make', value: identity.make },
    { label: 'Model', value: identity.model },
    { label: 'Year', value: identity.year },
    { label: 'System', value: figure(identity.systemVoltage_V, 'V') },
    { label: 'Odometer', value: odometer === null ? 'not recorded' : `${kilometres(odometer.km)} on ${dateWords(odometer.on)}` },
    { label: 'Recorded since', value: firstOn === null ? '' : dateWords(firstOn) },
    ...(vin === null ? [] : [{ label: 'VIN', value: vin || 'not recorded' }]),
    ...(plate === null ? [] : [{ label: 'Plate', value: plate || 'not recorded' }]),
    ...(keptAt === null ? [] : [{ label: 'Kept at', value: keptAt || 'not recorded' }]),
    { label: 'Left', value: leftWords(left) },
  ].filter((one) => one.value !== '')
}

function toDoOf({ unfinished, due }: Open): View['toDo'] {
  return [
    ...unfinished.map(({ since, text }) => ({ what: `Wiring not entered yet: ${text}`, when: `since ${dateWords(since)}` })),
    ...[...due]
      .sort((a, b) => ((a.on || '9') < (b.on || '9') ? -1 : 1))
      .map(({ what, on, odometer_km }) => ({
        what,
        when: [on === '' ? '' : dateWords(on), odometer_km === null ? '' : `at ${kilometres(odometer_km)}`]
          .filter((one) => one !== '')
          .join(' or '),
      })),
  ]
}
