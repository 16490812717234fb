/** What is fitted: each component, the part it holds and its ratings, with where each figure comes from. */
import { fieldsOf, partKind } from '../../../engine/parts/index.ts'
import type { Part } from '../../../engine/vehicle.ts'
import { judgedFor, placesFor } from '../../../records/build-page.ts'
import { isInked } from '../../shared/finding-view.ts'
import { pageOf } from '../../shared/paging.ts'
import { ratingWords } from '../../shared/rating-words.ts'
import { defineScope } from '../scope.ts'

type Rating = { readonly label: string; readonly value: string; readonly grade: string; readonly inked: boolean }
export type View = {
  readonly count: string
  readonly earlier: { readonly href: string }
  readonly later: { readonly href: string }
  readonly rows: readonly {
    readonly name: string
    readonly where: string
    readonly part: string
    readonly kind: string
    readonly ratings: readonly Rating[]
    readonly missing: string
    readonly spares: string
  }[]
}

const PER_PAGE = 40
const MOST_RATINGS = 8

export const parts = defineScope({
  id: 'parts',
  title: 'Parts',
  says: 'every component, the part in it, its ratings and how each is known',
  presets: ['buyer', 'workshop'],
  template: '/b/parts',
  view({ db, share, link, query }): View {
    const { document } = judgedFor(db, share)
    const held = new Map(document.parts.map((part) => [part.key, part]))
    const zones = new Map((document.zones ?? []).map(({ key, name }) => [key, name]))
    const places = placesFor(db, share)
    const sorted = document.components
      .flatMap((component) => {
        const part = held.get(component.part)
        return part ? [{ component, part }] : []
      })
      .sort((a, b) => a.component.name.localeCompare(b.component.name, 'en', { numeric: true }))
    const { shown, count, before, after } = pageOf(sorted, {
      asked: query.page,
      things: ['component', 'components'],
      address: (page) => link('parts', { page: String(page) }),
      perPage: PER_PAGE,
    })
    return {
      count,
      earlier: { href: before },
      later: { href: after },
      rows: shown.map(({ component, part }) => ({
        name: component.name,
        where: [zones.get(component.zone ?? '') ?? '', component.position === undefined ? '' : `position ${component.position}`]
          .filter((one) => one !== '')
          .join(', '),
        part: part.name,
        kind: partKind(part.kind)?.title ?? part.kind,
        ratings: ratingsOf(part).slice(0, MOST_RATINGS),
        missing: missingOf(part),
        spares: places.has(component.part) ? `spares in ${places.get(component.part)}` : '',
      })),
    }
  },
})

function ratingsOf(part: Part): readonly Rating[] {
  return fieldsOf(part.kind)
    .filter((field) => part.ratings[field.name] !== undefined && field.type !== 'rows')
    .map((field) => {
      const grade = part.evidence?.[field.name] ?? 'assumed'
      return { label: field.label, value: ratingWords(field, part.ratings[field.name]), grade, inked: isInked(grade) }
    })
}

/** A part is asked for by its basic figures; one that is missing is said to be. */
function missingOf(part: Part): string {
  const names = fieldsOf(part.kind).flatMap((field) =>
    'basic' in field && field.basic && part.ratings[field.name] === undefined ? [field.label.toLowerCase()] : [],
  )
  return names.length === 0 ? '' : `not known: ${names.join(', ')}`
}
