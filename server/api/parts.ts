/** Parts: what is known of the things on the shelf and in the vehicles. */
import { z } from 'zod'
import type { Actor } from '../records/contract.ts'
import type { Db } from '../records/database.ts'
import { revisionMarksOf } from '../records/part-versions.ts'
import { createPart, type NewPart, namesOf, partOf, partsNamed, revisePart, type StoredPart } from '../records/parts.ts'
import { operation } from './operation.ts'
import { byName } from './orders.ts'
import { pageOf, pageQuery, readPiece } from './paging.ts'
import { doneOr, notFound } from './problem.ts'
import * as shapes from './shapes.ts'

const EXAMPLE = '0190a000-0000-7000-8000-000000000001'
const partsQuery = pageQuery.extend({
  kind: z.string().max(80).optional().describe('Of one kind, such as relay.'),
  contains: z.string().max(200).optional().describe('In the name or the notes.'),
})

export const partOperations = [
  operation({
    id: 'listParts',
    method: 'GET',
    path: '/parts',
    summary: 'Every part, by name',
    writes: false,
    query: partsQuery,
    example: '/api/parts?kind=relay',
    status: 200,
    answer: pageOf(shapes.partItem),
    handle: ({ app, actor, query }) => {
      const { kind, contains } = query
      const found = namesOf(app.db, actor, { kind, contains })
      const read = (named: readonly { readonly id: string }[]) =>
        partsNamed(
          app.db,
          actor,
          named.map((part) => part.id),
        ).map(itemOf)
      return readPiece(found, { query, order: byName, read, path: '/api/parts', also: { kind, contains } })
    },
  }),
  operation({
    id: 'makePart',
    method: 'POST',
    path: '/parts',
    summary: 'A new part',
    about: 'Figures that are not known are left out, never guessed: what rests on them is then judged unknown.',
    writes: true,
    isOnce: true,
    body: shapes.newPart,
    example: { kind: 'fuse', name: 'Blade fuse, 15 A', ratings: { rated_A: 15 }, evidence: { rated_A: 'marked' } },
    status: 201,
    answer: shapes.part,
    handle: ({ app, actor, body }) => answer(app.db, actor, doneOr(createPart(app.db, app.clock, actor, body as NewPart)).id),
  }),
  operation({
    id: 'readPart',
    method: 'GET',
    path: '/parts/:id',
    summary: 'One part with all that was ever said of it',
    writes: false,
    example: `/api/parts/${EXAMPLE}`,
    status: 200,
    answer: shapes.part,
    handle: ({ app, actor, id }) => answer(app.db, actor, id),
  }),
  operation({
    id: 'revisePart',
    method: 'POST',
    path: '/parts/:id/revisions',
    summary: 'What is known of a part, said anew',
    about: 'Everything but the kind is said again. Every vehicle that holds the part is judged anew.',
    writes: true,
    isOnce: true,
    mayClash: true,
    body: shapes.newRevision,
    example: { name: 'Blade fuse, 15 A', ratings: { rated_A: 15 }, evidence: { rated_A: 'datasheet' } },
    status: 201,
    answer: shapes.part,
    handle: ({ app, actor, id, body }) => {
      const revision = body as Omit<NewPart, 'kind' | 'id'> & { readonly basedOn?: string }
      return answer(app.db, actor, doneOr(revisePart(app.db, app.clock, actor, id, revision)).id)
    },
  }),
]

function itemOf({ id, kind, name, ratings, evidence, notes, inStock, place, recordedAt, revisions }: StoredPart) {
  return { id, kind, name, ratings, evidence: evidence ?? {}, notes, inStock, place, recordedAt, revision: revisions.at(-1)?.id ?? '' }
}

function answer(db: Db, actor: Actor, id: string) {
  const part = partOf(db, actor, id)
  if (!part) throw notFound('part')
  const authors = new Map(revisionMarksOf(db, actor, id).map((mark) => [mark.id, mark.author]))
  return { ...itemOf(part), revisions: part.revisions.map((one) => ({ ...one, author: authors.get(one.id) ?? '' })) }
}
