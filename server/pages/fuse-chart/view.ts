import { dayQuery } from '../shared/day-view.ts'
import { colourSources, type FuseBox } from '../shared/fuse-boxes.ts'
import { CARD_SIZES, type CardName, type CardsView, COLUMNS, cardsView } from '../shared/fuse-cards.ts'
import { type Option, option } from '../shared/options.ts'
import type { Day } from '../shared/vehicle-facts.ts'

export type View = CardsView & {
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
  return {
    id: vehicle.id,
    box: box.key,
    on: day.isToday ? '' : day.on,
    sizes: Object.entries(CARD_SIZES).map(([key, one]) => option(key, one.name, size)),
    size,
    sizeName: CARD_SIZES[size].name,
    isExact,
    cutHref: `${chart}${dayQuery(day, { size })}`,
    exactHref: `${chart}${dayQuery(day, { size, paper: 'exact' })}`,
    pdfHref: `${chart}.pdf${dayQuery(day, { size })}`,
    ...cardsView({ vehicle: vehicle.name, box, place: 1, size, columns: COLUMNS, on: day.on, isWhole: false }),
    sources: colourSources(box.rows),
  }
}
