import { dateWords } from '../../web/format.ts'
import { dayQuery } from '../shared/day-view.ts'
import { colourSources, type FuseBox } from '../shared/fuse-boxes.ts'
import { type Option, option } from '../shared/options.ts'
import type { Day } from '../shared/vehicle-facts.ts'
import { CARD_SIZES, COLUMNS, type CardName, type ChartRow, chartRow, planCards, roughLines } from './cards.ts'

export type View = {
  readonly id: string
  readonly box: string
  /** YYYY-MM-DD where it is not today's; else empty */
  readonly on: string
  readonly sizes: readonly Option[]
  readonly size: CardName
  readonly sizeName: string
  readonly isExact: boolean
  readonly cutHref: string
  readonly exactHref: string
  readonly pdfHref: string
  readonly split: string
  readonly heads: readonly string[]
  readonly cards: readonly {
    readonly n: string
    readonly title: string
    readonly type: string
    readonly rows: readonly ChartRow[]
    readonly foot: string
  }[]
  readonly sources: string
}

export function view(given: {
  readonly vehicle: { readonly id: string; readonly name: string }
  readonly box: FuseBox
  readonly size: CardName
  readonly isExact: boolean
  readonly day: Day
}): View {
  const { vehicle, box, size, isExact, day } = given
  const chart = `/vehicles/${vehicle.id}/fuse-box/${box.key}/chart`
  const { name: sizeName } = CARD_SIZES[size]
  const plan = planCards(box.rows.map(chartRow), {
    size: CARD_SIZES[size],
    around: aroundOf({ vehicle: vehicle.name, box, on: day.on }),
    linesOf: roughLines,
  })
  return {
    id: vehicle.id,
    box: box.key,
    on: day.isToday ? '' : day.on,
    sizes: Object.entries(CARD_SIZES).map(([key, one]) => option(key, one.name, size)),
    size,
    sizeName,
    isExact,
    cutHref: `${chart}${dayQuery(day, { size })}`,
    exactHref: `${chart}${dayQuery(day, { size, paper: 'exact' })}`,
    pdfHref: `${chart}.pdf${dayQuery(day, { size })}`,
    split: splitWords(plan.cards.length, { sizeName, size_pt: plan.size_pt }),
    heads: COLUMNS.map((column) => column.label),
    cards: plan.cards.map((rows, n) => ({
      n: String(n + 1),
      title: cardTitle({ vehicle: vehicle.name, box: box.name, n, count: plan.cards.length }),
      type: `pt${plan.size_pt * 10}`,
      rows,
      foot: cardFoot(day.on),
    })),
    sources: colourSources(box.rows),
  }
}

export function cardTitle(given: { readonly vehicle: string; readonly box: string; readonly n: number; readonly count: number }): string {
  return `${given.vehicle} · ${given.box}${given.count > 1 ? ` · card ${given.n + 1} of ${given.count}` : ''}`
}

export function cardFoot(on: string): string {
  return `${dateWords(on)} · the number on the fuse decides, not its colour`
}

/** What stands above and below the rows, at its longest. */
export function aroundOf(given: { readonly vehicle: string; readonly box: FuseBox; readonly on: string }): readonly string[] {
  return [cardTitle({ vehicle: given.vehicle, box: given.box.name, n: 8, count: 9 }), cardFoot(given.on)]
}

function splitWords(count: number, given: { readonly sizeName: string; readonly size_pt: number }): string {
  return count > 1
    ? `Too much for one card of ${given.sizeName} that can be read: it goes over ${count} cards, set in ${given.size_pt} pt.`
    : ''
}
