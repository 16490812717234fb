import type { Life, LifeEvent } from '../../records/life.ts'
import { dateWords, instantWords } from '../../web/format.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { fieldLabel, fieldValue } from '../shared/field-words.ts'
import { figuresOf, ruleTitle } from '../shared/finding-view.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type View = {
  readonly day: DayView
  readonly lead: string
  readonly formerly: string
  readonly branchHref: string
  readonly branchWords: string
  readonly events: readonly {
    readonly when: string
    readonly href: string
    readonly title: string
    readonly says: readonly string[]
    readonly parts: readonly { readonly label: string; readonly name: string; readonly href: string }[]
    readonly fate: string
    readonly details: string
    readonly findings: readonly string[]
    readonly cleared: readonly string[]
    readonly recorded: string
  }[]
}

const FATES = { shelf: 'to the shelf', bin: 'to the bin', failed: 'failed', 'not said': 'not said where it went' } as const

export function view(given: {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly day: Day
  readonly life: Life
  readonly zones: ReadonlyMap<string, { readonly name: string }>
  readonly timeZone: string
}): View {
  const { vehicle, day, life, timeZone } = given
  const zone = (key: string) => given.zones.get(key)?.name ?? key
  return {
    day: dayView(day, { vehicle, path: `/vehicles/${vehicle.id}/components/${life.key}/life` }),
    lead: leadOf(life, day),
    formerly: life.formerNames.length === 0 ? '' : `Formerly called ${life.formerNames.join(', then ')}.`,
    branchHref: life.isFitted ? `/vehicles/${vehicle.id}/components/${life.key}${dayQuery(day)}` : '',
    branchWords: day.isToday ? 'As it is now' : 'As it was then',
    events: life.events.map((event) => ({
      when: dateWords(event.on),
      href: `/entries/${event.entryId}`,
      title: event.title,
      says: event.says.length > 0 ? event.says : ['Nothing was done to it, but what is found of it turned.'],
      parts: partsOf(event),
      fate: event.part?.was && event.part.fate !== null ? `The old part: ${FATES[event.part.fate]}.` : '',
      details: event.details.map(({ field, value }) => `${fieldLabel(field)} ${fieldValue(field, value, zone)}`).join(', '),
      findings: event.findings.map((finding) => `${finding.verdict}: ${ruleTitle(finding.rule)}, ${figuresOf(finding) || finding.says}`),
      cleared: event.cleared.map((finding) => `cleared: ${ruleTitle(finding.rule)}, was ${finding.verdict} ${figuresOf(finding)}`.trim()),
      recorded: `${event.corrected ? 'corrected' : 'recorded'} ${instantWords(event.recordedAt, timeZone)}, ${event.author}`,
    })),
  }
}

/** "Fitted on 3 May 2024; swapped twice since." */
function leadOf(life: Life, day: Day): string {
  const swaps = life.events.reduce((sum, event) => sum + event.kinds.filter((kind) => kind === 'swapped').length, 0)
  const times = life.fittings.map(({ from, until }) => `${dateWords(from)}${until === null ? '' : ` to ${dateWords(until)}`}`)
  const count = swaps === 0 ? 'never swapped' : swaps === 1 ? 'swapped once' : `swapped ${swaps} times`
  return `Fitted ${life.isFitted && times.length === 1 ? 'since ' : ''}${times.join(', again ')}; ${count}.${life.isFitted ? '' : day.isToday ? ' It is no longer in the vehicle.' : ' It was not in the vehicle that day.'}`
}

function partsOf(event: LifeEvent): View['events'][number]['parts'] {
  const { was, now } = event.part ?? { was: null, now: null }
  return [
    ...(was ? [{ label: 'Old part', name: was.name, href: `/parts/${was.id}` }] : []),
    ...(now ? [{ label: was ? 'New part' : 'Part', name: now.name, href: `/parts/${now.id}` }] : []),
  ]
}
