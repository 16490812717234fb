/** The fuse charts, box by box, as cards for the lids. Spares on the shelf are the household's and stay out. */
import { identityFor, judgedFor, maskFor } from '../../../records/build-page.ts'
import { solvedOf } from '../../../records/solved.ts'
import { colourSources, fuseBoxesOf } from '../../shared/fuse-boxes.ts'
import { CARD_SIZES, type CardName, type CardsView, cardNamed, cardsView, WITHOUT_SPARES } from '../../shared/fuse-cards.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly sizes: readonly { readonly href: string; readonly label: string; readonly isHere: boolean }[]
  readonly size: CardName
  readonly boxes: readonly (CardsView & { readonly name: string; readonly ways: string })[]
  readonly sources: string
}

export const fuses = defineScope({
  id: 'fuses',
  title: 'Fuse charts',
  says: 'each fuse with its rating, its colour and what it feeds, to print for the lid',
  goesWith: 'wiring',
  presets: [],
  template: '/b/fuses',
  styles: ['on-paper'],
  view({ db, share, today, link, query }): View {
    const { name } = maskFor(db, share)
    // Looked through before they are dealt to cards: of a name that is cut to fit no mask would find the rest.
    const boxes = fuseBoxesOf(solvedOf(judgedFor(db, share).document), () => 0).map((box) => ({
      ...box,
      name: name(box.name),
      rows: box.rows.map((row) => ({ ...row, name: name(row.name), position: name(row.position), feeds: row.feeds.map(name) })),
    }))
    const vehicle = name(identityFor(db, share).name)
    const size = cardNamed(query.size)
    return {
      sizes: Object.entries(CARD_SIZES).map(([key, { name }]) => ({
        href: link('fuses', { size: key }),
        label: name,
        isHere: key === size,
      })),
      size,
      boxes: boxes.map((box, n) => ({
        ...{ name: box.name, ways: box.ways },
        ...cardsView({ vehicle, box, place: n + 1, size, columns: WITHOUT_SPARES, on: today, isWhole: true }),
      })),
      sources: colourSources(boxes.flatMap((box) => box.rows)),
    }
  },
})
