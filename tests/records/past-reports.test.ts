/** Reports of past days are kept within a bound of memory, whatever a vehicle is made of. */
import { serialize } from 'node:v8'
import { expect, test } from 'vitest'
import { append } from '../../server/records/journal.ts'
import { keptPast, mostPast_kB, pastReport } from '../../server/records/past-reports.ts'
import { fit, openBook, value } from './book.ts'

test('many days of a vehicle on which nothing is found, loads that are not wired yet, are not all kept', () => {
  const { db, clock, actor, vehicleId, part, entry } = openBook()
  const fitted = Array.from({ length: 250 }, (_, n) => fit(`l${n}`, part.lamp))
  value(append(db, clock, actor, entry('2020-01-01', fitted)))
  const days = Array.from({ length: 100 }, (_, n) => new Date(Date.UTC(2021, 0, 1 + n)).toISOString().slice(0, 10))
  const [one] = days.map((on) => pastReport(db, actor, vehicleId, on))
  expect(one?.report.findings).toEqual([])
  // Written out each takes so much, in memory more.
  const { document, report } = one as NonNullable<typeof one>
  const least_kB = serialize({ document, report }).length / 1000
  expect(days.length * least_kB).toBeGreaterThan(mostPast_kB)
  expect(keptPast(db).size).toBeGreaterThan(1)
  expect(keptPast(db).size * least_kB).toBeLessThan(mostPast_kB)
})

test('a day that was asked for lately is not judged again, until an entry comes before it', () => {
  const { db, clock, actor, vehicleId, part, entry } = openBook()
  value(append(db, clock, actor, entry('2020-01-01', [fit('l1', part.lamp)])))
  const first = pastReport(db, actor, vehicleId, '2021-01-01')
  expect(pastReport(db, actor, vehicleId, '2021-01-01')).toBe(first)
  value(append(db, clock, actor, entry('2022-01-01', [fit('l2', part.lamp)])))
  expect(pastReport(db, actor, vehicleId, '2021-01-01').document).toEqual(first.document)
  value(append(db, clock, actor, entry('2020-06-01', [fit('l3', part.lamp)])))
  expect(pastReport(db, actor, vehicleId, '2021-01-01').document.components.map(({ key }) => key)).toEqual(['l1', 'l3'])
})
