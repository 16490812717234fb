/** The journal: its entries, read, added to, said anew and taken back. */

import type { NewEntry, SavedEntry } from '../records/contract.ts'
import { append, correct, entryOf, listedRows, someEntries, withdraw } from '../records/journal.ts'
import { vehicleOf } from '../records/vehicles.ts'
import { type Asked, operation } from './operation.ts'
import { latestFirst } from './orders.ts'
import { pageOf, pageQuery, readPiece } from './paging.ts'
import { doneOr, notFound } from './problem.ts'
import * as shapes from './shapes.ts'

const EXAMPLE = '0190a000-0000-7000-8000-000000000001'
const measuring = (value: number) => ({
  effectiveOn: '2026-05-03',
  title: 'Looked at the main relay',
  changes: [{ kind: 'measured', at: 'r7', quantity: 'current', value }],
})

export const entryOperations = [
  operation({
    id: 'listEntries',
    method: 'GET',
    path: '/vehicles/:id/entries',
    summary: 'The journal of a vehicle, the latest first',
    about: 'As it stands: of a corrected entry the latest version, and what was withdrawn is marked.',
    writes: false,
    query: pageQuery,
    example: `/api/vehicles/${EXAMPLE}/entries?limit=20`,
    status: 200,
    answer: pageOf(shapes.entryItem),
    handle: ({ app, actor, id, query }) => {
      if (!vehicleOf(app.db, actor, id)) throw notFound('vehicle')
      const read = (rows: readonly { readonly id: string }[]) =>
        someEntries(app.db, actor, { vehicleId: id, ids: rows.map((row) => row.id) }).map(({ shown: _shown, ...entry }) => entry)
      return readPiece(listedRows(app.db, actor, id), { query, order: latestFirst, path: `/api/vehicles/${id}/entries`, read })
    },
  }),
  operation({
    id: 'addEntry',
    method: 'POST',
    path: '/vehicles/:id/entries',
    summary: 'One more entry in the journal of a vehicle',
    about: 'All of it is recorded, or nothing. The answer says what it brought: findings that appeared, cleared or changed.',
    writes: true,
    isOnce: true,
    mayClash: true,
    body: shapes.newEntry,
    example: measuring(18.5),
    status: 201,
    answer: shapes.entry,
    handle: ({ app, actor, id, body }) => {
      if (!vehicleOf(app.db, actor, id)) throw notFound('vehicle')
      return doneOr(append(app.db, app.clock, actor, { ...(body as Omit<NewEntry, 'vehicleId'>), vehicleId: id }))
    },
  }),
  operation({
    id: 'readEntry',
    method: 'GET',
    path: '/entries/:id',
    summary: 'One entry, with what the check said when it was saved',
    writes: false,
    example: `/api/entries/${EXAMPLE}`,
    status: 200,
    answer: shapes.entry,
    handle: (asked) => entryFrom(asked),
  }),
  operation({
    id: 'correctEntry',
    method: 'POST',
    path: '/entries/:id/corrections',
    summary: 'An entry, said anew',
    about:
      'All of it is said again and takes the place of the version in the address, which must be the latest; both stay readable. ' +
      'What the journal holds after it must still go with it.',
    writes: true,
    isOnce: true,
    mayClash: true,
    body: shapes.newEntry,
    example: measuring(17.5),
    status: 201,
    answer: shapes.entry,
    handle: (asked) => {
      const { app, actor, body } = asked
      const { id, vehicleId } = entryFrom(asked)
      return doneOr(correct(app.db, app.clock, actor, id, { ...(body as Omit<NewEntry, 'vehicleId'>), vehicleId }))
    },
  }),
  operation({
    id: 'withdrawEntry',
    method: 'POST',
    path: '/entries/:id/withdrawals',
    summary: 'An entry, taken back with all its versions',
    about:
      'It stays readable, marked as withdrawn. What the journal holds after it must do without it. ' +
      'Withdrawn again, it is refused, and the fault names the withdrawal by its id; withdraw that, and the entry stands again.',
    writes: true,
    isOnce: true,
    mayClash: true,
    body: shapes.withdrawal,
    example: { reason: 'Written down twice.' },
    status: 201,
    answer: shapes.entry,
    handle: (asked) => doneOr(withdraw(asked.app.db, asked.app.clock, asked.actor, entryFrom(asked).id, asked.body.reason)),
  }),
]

function entryFrom({ app, actor, id }: Asked<unknown, unknown>): SavedEntry {
  const entry = entryOf(app.db, actor, id)
  if (!entry) throw notFound('entry')
  return entry
}
