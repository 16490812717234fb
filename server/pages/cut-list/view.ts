import type { Harness } from '../../drawing/harnesses.ts'
import { dateWords, figure } from '../../web/format.ts'
import { type CutLine, cutTotals, cutWords } from '../shared/cut-lines.ts'
import { type DayView, dayQuery, dayView } from '../shared/day-view.ts'
import { formFaults, type ShownFault } from '../shared/faults.ts'
import { type Option, option } from '../shared/options.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import type { Asked } from './form.ts'

export type View = {
  readonly id: string
  readonly day: DayView
  readonly on: string
  readonly isToday: boolean
  readonly lead: string
  readonly nothing: string
  readonly faults: readonly ShownFault[]
  readonly harnesses: readonly Option[]
  readonly typed: Asked['typed']
  readonly csvHref: string
  readonly drawingHref: string
  readonly lines: readonly {
    readonly name: string
    readonly href: string
    readonly number: string
    /** where its colour and terminals are recorded; empty on an earlier day */
    readonly marksHref: string
    readonly hasColour: boolean
    readonly count: string
    readonly crossSection: string
    readonly colour: string
    readonly length: string
    readonly cut: string
    readonly ends: readonly { readonly at: string; readonly terminal: string; readonly tool: string; readonly isRecorded: boolean }[]
    readonly sleeve: string
  }[]
  readonly totals: readonly {
    readonly crossSection: string
    readonly colour: string
    readonly pieces: string
    readonly metres: string
    readonly left: string
  }[]
}

const NOT_RECORDED = 'not recorded'

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string; readonly firstOn: string | null }
  readonly day: Day
  readonly harnesses: readonly Harness[]
  readonly asked: Asked
  readonly lines: readonly CutLine[]
  readonly isEmpty: boolean
}): View {
  const { vehicle, day, harnesses, asked, lines } = given
  const { end_mm, share_percent } = asked.allowance
  const query = dayQuery(day)
  const kept = { harness: asked.harness, end: asked.typed.end, share: asked.typed.share }
  const path = `/vehicles/${vehicle.id}/cut-list`
  const unknown = lines.filter((line) => line.cut_m === null).length
  return {
    id: vehicle.id,
    day: dayView(day, { vehicle, path, kept }),
    on: day.on,
    isToday: day.isToday,
    lead: `${lines.length} ${lines.length === 1 ? 'conductor' : 'conductors'} of ${vehicle.name}, as of ${dateWords(day.on)}. Each is cut ${figure(share_percent, '%')} longer than recorded, and ${figure(end_mm, 'mm')} more at each end.${unknown > 0 ? ` ${unknown} cannot be cut yet: no length is recorded.` : ''}`,
    nothing: given.isEmpty ? 'Nothing is recorded yet, so there is nothing to cut.' : lines.length === 0 ? 'No conductor is recorded.' : '',
    faults: formFaults(asked.faults, (field) => LABELS[field] ?? field),
    harnesses: [option('', 'All of them', asked.harness), ...harnesses.map((one) => option(one.key, one.name, asked.harness))],
    typed: asked.typed,
    csvHref: `${path}.csv?${new URLSearchParams({ ...(day.isToday ? {} : { on: day.on }), ...kept })}`,
    drawingHref: `/vehicles/${vehicle.id}/wiring-drawing${query}`,
    lines: lines.map((line) => ({
      name: line.name,
      href: `/vehicles/${vehicle.id}/components/${line.component}${query}`,
      number: line.number,
      marksHref: day.isToday ? `/vehicles/${vehicle.id}/components/${line.component}/marks` : '',
      hasColour: line.colour !== '',
      count: line.count === 1 ? '' : `${line.count} ×`,
      crossSection: line.crossSection || NOT_RECORDED,
      colour: line.colour || NOT_RECORDED,
      length: line.length_m === null ? NOT_RECORDED : figure(line.length_m, 'm'),
      cut: cutWords(line),
      ends: line.ends.map((end) => ({
        at: end.at,
        terminal: end.terminal === '' ? 'terminal not recorded' : end.terminal,
        tool: end.tool,
        isRecorded: end.terminal !== '',
      })),
      sleeve: line.sleeve,
    })),
    totals: cutTotals(lines).map((total) => ({
      crossSection: total.crossSection || NOT_RECORDED,
      colour: total.colour || NOT_RECORDED,
      pieces: String(total.pieces),
      metres: cutWords(total),
      left: total.unknown === 0 ? '' : `and ${total.unknown} of unknown length`,
    })),
  }
}

const LABELS: Readonly<Record<string, string>> = { harness: 'Harness', end: 'More at each end', share: 'More on the length' }
