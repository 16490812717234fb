/** Run with TZ set: days go in by the form and are read back everywhere they stand; what was read is printed as JSON. */
import { entryOf } from '../../server/records/journal.ts'
import { stateOn } from '../../server/records/state.ts'
import { openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

/** Among them days on which clocks are put forward or back somewhere, and one that Samoa never had. */
export const DAYS = ['1999-12-31', '2000-01-01', '2011-12-30', '2024-02-29', '2026-03-08', '2026-03-29', '2026-10-25', '2026-11-01']

async function main(timeZone: string) {
  const book = await openBook({ demo: false, timeZone })
  const vehicle = (await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })).headers.location as string
  const vehicleId = vehicle.slice('/vehicles/'.length)
  const read: Record<string, unknown> = {}
  for (const day of DAYS) {
    const again = `2027${day.slice(4).replace('02-29', '02-28')}`
    const saved = await book.post(`${vehicle}/entries`, { verb: 'noted', title: `On ${day}`, text: 'x', on: day, again, do: 'save' })
    const address = saved.headers.location as string
    const id = address.slice('/entries/'.length)
    const journal = (await book.get(`${vehicle}/journal?on=${day}`)).body
    read[day] = {
      record: entryOf(book.db, book.actor, id)?.effectiveOn,
      row: book.db.$client.prepare('SELECT effective_on FROM entries WHERE id = ?').pluck().get(id),
      page: /<dt>When<\/dt><dd>([^<]+)</.exec((await book.get(address)).body)?.[1],
      form: /name="on"[^>]* value="([^"]+)"/.exec((await book.get(`${address}/correction`)).body)?.[1],
      journal: new RegExp(`<span class="when">([^<]+)</span><span><a href="${address}"`).exec(journal)?.[1],
      asOf: /As it stood on <strong>([^<]+)</.exec((await book.get(`${vehicle}?on=${day}`)).body)?.[1],
      due: [...stateOn(book.db, book.actor, vehicleId, day).due.values()].map((one) => one.on).filter((on) => on === again),
      document: (JSON.parse((await book.get(`${vehicle}/document.json?on=${day}`)).body) as { asOf: string }).asOf,
      compared: textOf(insideOf((await book.get(`${vehicle}/compare?from=${day}&to=${day}`)).body, 'main')).includes(day.slice(0, 4)),
    }
  }
  const tomorrow = await book.post(`${vehicle}/entries`, { verb: 'noted', text: 'x', on: '2026-11-26', do: 'save' })
  await book.close()
  return { offset_min: new Date('2026-11-25T12:00:00Z').getTimezoneOffset(), read, tomorrow: tomorrow.statusCode }
}

if (process.argv[2] === 'run') console.log(JSON.stringify(await main(process.argv[3] ?? 'UTC')))
