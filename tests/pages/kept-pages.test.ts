/** No page is ever older than what is recorded: each is compared with the same page from a door that has kept nothing. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { changeKinds } from '../../server/records/changes/index.ts'
import type { Clock } from '../../server/records/clock.ts'
import type { Change } from '../../server/records/contract.ts'
import { openDatabase } from '../../server/records/database.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { partsById } from '../../server/records/part-rows.ts'
import { revisePart } from '../../server/records/parts.ts'
import { beginSession } from '../../server/records/sessions.ts'
import { countStock } from '../../server/records/stock.ts'
import { undoCorrection } from '../../server/records/versions.ts'
import { writesOf } from '../../server/records/writes.ts'
import { mostKeptBytes } from '../../server/web/kept-pages.ts'
import { value } from '../records/book.ts'
import { type Book, openBook, tokenIn } from './book.ts'

let now = new Date('2026-11-25T12:00:00Z')
const clock: Clock = { now: () => now }
let book: Book
let V: string
beforeAll(async () => {
  book = await openBook({ clock })
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const kept = () => [V, `${V}/components/r7`, `${V}/entries/new?component=r7`]
const onceIn = (body: string) => /name="once" value="([^"]+)"/.exec(body)?.[1] ?? ''
/** Without what belongs to one form alone. */
const plain = (body: string) => body.replaceAll(/name="(_token|once)" value="[^"]*"/g, '')

/** A door that was never asked before: it has kept nothing. */
const newDoor = () => buildApp({ db: book.db, clock, config: { data: book.data, host: '127.0.0.1', port: 0, timeZone: 'UTC' } })

async function anew(url: string, cookie = book.cookie): Promise<string> {
  const app = await newDoor()
  const reply = await app.inject({ url, headers: { cookie } })
  await app.close()
  return reply.body
}

/** Every kept page after the write is the page as it is now; one of them at least is another than before. */
async function changes(write: () => unknown): Promise<void> {
  const before = new Map<string, string>()
  for (const url of kept()) before.set(url, plain((await book.get(url)).body))
  await write()
  const door = await newDoor()
  let differ = 0
  for (const url of kept()) {
    const after = plain((await book.get(url)).body)
    expect(after, url).toBe(plain((await door.inject({ url, headers: { cookie: book.cookie } })).body))
    if (after !== before.get(url)) differ++
  }
  await door.close()
  expect(differ).toBeGreaterThan(0)
}

describe('a page asked for again', () => {
  test('asks the database for nothing but the session, and has the same token and a new once', async () => {
    for (const url of [V, `${V}/components/r7`, `${V}/entries/new`]) {
      const first = await book.get(url)
      const prepare = vi.spyOn(book.db.$client, 'prepare')
      const second = await book.get(url)
      expect(prepare, url).not.toHaveBeenCalled()
      prepare.mockRestore()
      expect([second.statusCode, plain(second.body)]).toEqual([200, plain(first.body)])
      expect(tokenIn(second.body)).toBe(book.token)
      const headers = (reply: typeof first) => ({ ...reply.headers, date: '', 'content-length': '' })
      expect(headers(second)).toEqual(headers(first))
      expect(second.body).not.toMatch(/value="[0-9a-f]{48}"/)
      if (url !== V) {
        expect(onceIn(second.body)).toMatch(/^[0-9a-f-]{36}$/)
        expect(onceIn(second.body)).not.toBe(onceIn(first.body))
      }
    }
  })

  test('by somebody else, or in another session, is another page with a token of its own', async () => {
    const session = beginSession(
      book.db,
      clock,
      { id: book.actor.personId, householdId: book.actor.householdId },
      { device: '', address: '' },
    )
    const cookie = `loombook_session=${session}`
    const [mine, other] = [await book.get(V), await book.app.inject({ url: V, headers: { cookie } })]
    expect(tokenIn(other.body)).not.toBe(tokenIn(mine.body))
    expect(tokenIn(other.body)).toBe(tokenIn(await anew(V, cookie)))
    expect(plain(other.body)).toBe(plain(mine.body))
    const signedOut = await book.app.inject({ url: V })
    expect([signedOut.statusCode, signedOut.body]).toEqual([303, ''])
  })

  test('with a form shown again as it was typed, or by a script, is made anew and not kept', async () => {
    const kept = book.app.keptForms.keep(book.actor.personId, [{ name: 'title', value: 'Typed before' }])
    const shown = await book.get(`${V}/entries/new?kept=${kept}`)
    expect(shown.body).toContain('Typed before')
    expect((await book.get(`${V}/entries/new`)).body).not.toContain('Typed before')
    const prepare = vi.spyOn(book.db.$client, 'prepare')
    await book.get(V)
    expect(prepare).not.toHaveBeenCalled()
    await book.get(V, { 'hx-request': 'true' })
    expect(prepare).toHaveBeenCalled()
    prepare.mockRestore()
  })

  test('fills its memory up to a bound', async () => {
    const size = (await book.get(V)).rawPayload.length
    let asked = 0
    const prepare = vi.spyOn(book.db.$client, 'prepare')
    // The last of so many is past the bound, and so made anew each time.
    for (let bytes = 0; bytes < mostKeptBytes + 2 * size; bytes += size) await book.get(`${V}?n=${asked++}`)
    prepare.mockClear()
    await book.get(`${V}?n=0`)
    expect(prepare).not.toHaveBeenCalled()
    await book.get(`${V}?n=${asked - 1}`)
    expect(prepare).toHaveBeenCalled()
    prepare.mockRestore()
  })
})

describe('what is written shows at once', () => {
  const relay = () => [...partsById(book.db, book.actor).values()].find((part) => part.kind === 'relay')?.id as string
  const on = '2026-11-24'
  const rows: readonly (readonly [Change['kind'], () => Change])[] = [
    ['described', () => ({ kind: 'described', vehicle: { name: 'Bramble the second' } })],
    ['fitted', () => ({ kind: 'fitted', component: { key: 'spare', name: 'Spare relay', part: relay() } })],
    ['joined', () => ({ kind: 'joined', from: 'spare:30', to: 'frame:spare' })],
    ['unjoined', () => ({ kind: 'unjoined', from: 'spare:30', to: 'frame:spare' })],
    ['renamed', () => ({ kind: 'renamed', component: 'r7', name: 'Seventh relay' })],
    ['swapped', () => ({ kind: 'swapped', component: 'spare', part: relay(), fate: 'bin' })],
    ['rerouted', () => ({ kind: 'rerouted', component: 'main-lead', length_m: 2.75 })],
    ['measured', () => ({ kind: 'measured', at: 'r7', quantity: 'current', value: 3 })],
    ['serviced', () => ({ kind: 'serviced', component: 'r7', text: 'Contacts cleaned' })],
    ['noted', () => ({ kind: 'noted', component: 'r7', text: 'Hums when warm' })],
    ['unfinished', () => ({ kind: 'unfinished', key: 'later', components: ['spare'], text: 'Coil side' })],
    ['finished', () => ({ kind: 'finished', key: 'later' })],
    ['due-set', () => ({ kind: 'due-set', key: 'look', what: 'Look at the relay', on: '2027-01-01' })],
    ['due-done', () => ({ kind: 'due-done', key: 'look' })],
    ['due-dropped', () => ({ kind: 'due-dropped', key: 'grounds-2027' })],
    ['decided', () => ({ kind: 'decided', component: 'r7', considered: [], why: 'It stays' })],
    ['removed', () => ({ kind: 'removed', component: 'spare', fate: 'shelf' })],
    ['left', () => ({ kind: 'left', how: 'sold', to: 'Robin' })],
  ]

  test('there is a row for every kind of change', () => {
    expect(rows.map(([kind]) => kind).sort()).toEqual(changeKinds.map((one) => one.kind).sort())
  })

  let last = ''
  test.each(rows)('an entry of the kind %s', async (kind, change) => {
    await changes(() => {
      last = value(
        append(book.db, clock, book.actor, {
          vehicleId: book.vehicles[0] as string,
          effectiveOn: on,
          title: `An entry ${kind}`,
          changes: [change()],
        }),
      ).id
    })
  })

  test('an entry corrected, its correction undone, withdrawn, and brought back', async () => {
    const vehicleId = book.vehicles[0] as string
    await changes(() => withdraw(book.db, clock, book.actor, last))
    const noted = (text: string) => ({
      vehicleId,
      effectiveOn: on,
      title: text,
      changes: [{ kind: 'noted', component: 'r7', text }] as const,
    })
    let id = ''
    await changes(() => {
      id = value(append(book.db, clock, book.actor, noted('First words'))).id
    })
    await changes(() => {
      id = value(correct(book.db, clock, book.actor, id, noted('Second words'))).id
    })
    await changes(() => {
      id = value(undoCorrection(book.db, clock, book.actor, id)).id
    })
    await changes(() => book.post(`/entries/${id}/withdrawals`, {}))
    await changes(() => book.post(`/entries/${id}/restorations`, {}))
  })

  test('a part revised, counted, and a form of the page itself sent', async () => {
    const id = relay()
    const { name, ratings } = partsById(book.db, book.actor).get(id) as { name: string; ratings: Record<string, number> }
    await changes(() =>
      value(
        revisePart(book.db, clock, book.actor, id, {
          name: `${name} mark II`,
          ratings: { ...ratings, make_A: 1 },
          evidence: {},
          notes: '',
        }),
      ),
    )
    await changes(() => value(countStock(book.db, clock, book.actor, id, 17, 'Drawer Q')))
    await changes(async () => {
      const page = await book.get(`${V}/components/r7`)
      const sent = await book.post(`${V}/unfinished`, { components: 'r7', text: 'Not yet', once: onceIn(page.body) })
      expect(sent.statusCode).toBe(303)
    })
  })

  test('a person called otherwise or of another role, by a write to the very row', async () => {
    await changes(() => book.db.$client.prepare("UPDATE people SET name = 'Keeper'").run())
    book.db.$client.prepare("UPDATE people SET name = 'Owner'").run()
    expect((await book.get(V)).body).not.toContain('Keeper')
  })

  test('an archive taken in', async () => {
    const other = await openBook({ clock })
    const list = `/vehicles/${book.vehicles[1]}`
    await book.get(list)
    const zip = (await other.get('/archive/download')).rawPayload
    const form = new FormData()
    form.append('_token', book.token)
    form.append('archive', new Blob([new Uint8Array(zip)], { type: 'application/zip' }), 'a.zip')
    const taken = `/vehicles/${other.vehicles[0]}`
    expect((await book.get(taken)).statusCode).toBe(404)
    await book.app.inject({ method: 'POST', url: '/archive/imports', headers: { cookie: book.cookie }, payload: form as never })
    expect((await book.get(taken)).statusCode).toBe(200)
    await other.close()
  })

  test('the day that turns, and a second that passes', async () => {
    const before = (await book.get(V)).body
    now = new Date('2026-11-26T00:00:00Z')
    const after = (await book.get(V)).body
    const asOf = (body: string) => /As of<\/dt><dd>([^<]+)/.exec(body)?.[1]
    expect([asOf(before), asOf(after)]).toEqual(['25 November 2026', '26 November 2026'])
    expect(plain(after)).toBe(plain(await anew(V)))
    now = new Date(now.getTime() + 1000)
    const prepare = vi.spyOn(book.db.$client, 'prepare')
    await book.get(V)
    expect(prepare).toHaveBeenCalled()
    prepare.mockRestore()
  })
})

test('the count of writes changes with every row, whoever writes it, and is not told within a transaction', () => {
  const folder = mkdtempSync(join(tmpdir(), 'writes-'))
  const db = openDatabase(join(folder, 'loombook.sqlite'))
  const writes = writesOf(db)
  const seen = [writes()]
  const tell = () => {
    const word = writes()
    expect(seen).not.toContain(word)
    seen.push(word)
  }
  expect(writes()).toBe(seen[0])
  db.$client.prepare("INSERT INTO households (id, recorded_at) VALUES ('0190a000-0000-7000-8000-000000000001', 'x')").run()
  tell()
  db.$client.prepare("UPDATE households SET recorded_at = 'y'").run()
  tell()
  const other = new Database(join(folder, 'loombook.sqlite'))
  other.prepare("UPDATE households SET recorded_at = 'z'").run()
  other.close()
  tell()
  db.$client.transaction(() => {
    expect(writes()).toBeNull()
    db.$client.prepare('DELETE FROM households').run()
  })()
  tell()
  expect(() =>
    db.$client.transaction(() => {
      db.$client.prepare("INSERT INTO households (id, recorded_at) VALUES ('0190a000-0000-7000-8000-000000000002', 'x')").run()
      throw new Error('undone')
    })(),
  ).toThrow()
  tell()
  db.$client.close()
  rmSync(folder, { recursive: true })
})
