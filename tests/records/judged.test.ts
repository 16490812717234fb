import { describe, expect, it } from 'vitest'
import { append } from '../../server/records/journal.ts'
import { createPart, unknownRatings } from '../../server/records/parts.ts'
import { reportOn } from '../../server/records/projection.ts'
import { fit, join, openBook, value } from './book.ts'

describe('the journal and the check together', () => {
  // By hand: one lamp of 30 A (constant current) hangs on the make contact of R7, rated 40 A, then 20 A: 30 > 20 is over, 30 ≤ 0.8 × 40 = 32 is clear.
  it('a smaller relay overloads its contact; the entry says so, and swapping back clears it', () => {
    const book = openBook()
    const make = (kind: string, name: string, ratings: object) =>
      value(createPart(book.db, book.clock, book.actor, { kind, name, ratings } as never)).id
    const battery = make('battery', 'Battery', { nominal_V: 12, openCircuit_V: 12.6, internalResistance_ohm: 0.005 })
    const lamp = make('load', 'Big lamp', { behaviour: 'current', current_A: 30, rated_V: 12 })
    const small = make('relay', '20 A relay', { make_A: 20 })
    const bare = make('relay', 'Relay without marks', {})
    const add = (on: string, part: string) =>
      value(append(book.db, book.clock, book.actor, book.entry(on, [{ kind: 'swapped', component: 'r7', part, fate: 'shelf' }])))
    const wiring = [
      fit('bat', battery),
      fit('r7', book.part.relay),
      fit('lamp', lamp),
      join('bat:+', 'r7:30'),
      join('r7:87', 'lamp:+'),
      join('lamp:-', 'bat:-'),
    ]
    value(append(book.db, book.clock, book.actor, book.entry('2024-01-01', wiring)))
    const contact = (findings: readonly { rule: string; component: string }[]) =>
      findings.filter((finding) => finding.rule === 'contact-load' && finding.component === 'r7')
    const swapped = add('2024-02-01', small)
    expect(contact(swapped.shown?.appeared ?? [])).toMatchObject([{ verdict: 'over', value: expect.closeTo(30, 6), limit: 20, unit: 'A' }])
    const back = add('2024-03-01', book.part.relay)
    expect(contact(back.shown?.cleared ?? [])).toMatchObject([{ verdict: 'over' }])
    expect(contact(reportOn(book.db, book.actor, book.vehicleId).report.findings)).toMatchObject([
      { verdict: 'clear', value: expect.closeTo(30, 6), limit: 40 },
    ])
    expect(contact(reportOn(book.db, book.actor, book.vehicleId, '2024-02-15').report.findings)).toMatchObject([{ verdict: 'over' }])
    add('2024-04-01', bare)
    expect(unknownRatings(book.db, book.actor)).toContainEqual(expect.objectContaining({ partId: bare, rating: 'make_A' }))
  })
})
