/** The fuse charts, box by box. Spares on the shelf are the household's and stay out. */
import { judgedFor } from '../../../records/build-page.ts'
import { solvedOf } from '../../../records/solved.ts'
import { colourSources, fuseBoxesOf } from '../../shared/fuse-boxes.ts'
import { defineScope } from '../scope.ts'

export type View = {
  readonly boxes: readonly {
    readonly name: string
    readonly ways: string
    readonly rows: readonly {
      readonly position: string
      readonly rating: string
      readonly colour: string
      readonly feeds: string
      readonly wire: string
    }[]
  }[]
  readonly sources: string
}

export const fuses = defineScope({
  id: 'fuses',
  title: 'Fuse charts',
  says: 'each fuse with its rating, its colour and what it feeds',
  goesWith: 'wiring',
  presets: [],
  template: '/b/fuses',
  view({ db, share }): View {
    const boxes = fuseBoxesOf(solvedOf(judgedFor(db, share).document), () => 0)
    return {
      boxes: boxes.map(({ name, ways, rows }) => ({
        ...{ name, ways },
        rows: rows.map((row) => ({
          position: row.position === row.name ? row.name : `${row.position} ${row.name}`,
          rating: row.rating,
          colour: row.colour === '' ? 'none' : row.colour,
          feeds: row.feeds.join('; '),
          wire: row.wire,
        })),
      })),
      sources: colourSources(boxes.flatMap((box) => box.rows)),
    }
  },
})
