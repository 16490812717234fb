import { dateWords } from '../../web/format.ts'
import { dayQuery } from '../shared/day-view.ts'
import type { Head, Section } from '../shared/paper.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import { type Facts, ON_PAPER, TICKS } from './facts.ts'

export type View = {
  readonly id: string
  /** YYYY-MM-DD where it is not today's; else empty */
  readonly on: string
  readonly lead: string
  readonly ticks: readonly { readonly name: string; readonly label: string; readonly ticked: boolean }[]
  readonly sections: readonly Section[]
  /** a column's share of its table, in per cent, to the nearest even one that there is a class for */
  readonly width: (head: Head, heads: readonly Head[]) => string
  readonly pdf: string
  readonly pdfLetter: string
}

export function view(given: { readonly facts: Facts; readonly day: Day; readonly sections: readonly Section[] }): View {
  const { facts, day, sections } = given
  const ticked = Object.fromEntries([...facts.ticked].map((field) => [field, 'yes']))
  const pdf = (more: Readonly<Record<string, string>>) =>
    `/vehicles/${facts.vehicle.id}/handover-file.pdf${dayQuery(day, { ...ticked, ...more })}`
  return {
    id: facts.vehicle.id,
    on: day.isToday ? '' : day.on,
    lead: leadOf(facts),
    ticks: ON_PAPER.map((name) => ({ name, label: TICKS[name], ticked: facts.ticked.has(name) })),
    sections,
    width: widthOf,
    pdf: pdf({}),
    pdfLetter: pdf({ paper: 'letter' }),
  }
}

function widthOf(head: Head, heads: readonly Head[]): string {
  const shares = heads.reduce((sum, one) => sum + one.share, 0)
  return String(Math.min(60, Math.max(4, 2 * Math.round((head.share / shares) * 50))))
}

export function leadOf(facts: Facts): string {
  return `${facts.vehicle.name} as recorded on ${dateWords(facts.on)}: what is fitted, how it is wired and protected, what was done, what is open and what was not checked. “Not known” and “not recorded” mean just that. “Assumed” and “typical” stand beside figures that nobody read off the thing itself.`
}
