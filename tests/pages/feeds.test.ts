import { execFileSync } from 'node:child_process'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { atomOf } from '../../server/pages/feeds/atom.ts'
import { calendarOf } from '../../server/pages/feeds/calendar.ts'
import type { Change } from '../../server/records/contract.ts'
import { append } from '../../server/records/journal.ts'
import { loggedAddress } from '../../server/web/logged-address.ts'
import { type Book, openBook } from './book.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

type Line = { readonly name: string; readonly value: string }

/** A second reader, by the grammar of RFC 5545, 3.1 and 3.3.11: lines end in CRLF and hold at most 75 octets; a space continues. */
function readCalendar(text: string): { readonly lines: readonly Line[]; readonly longest: number } {
  expect(text.endsWith('\r\n')).toBe(true)
  const physical = text.slice(0, -2).split('\r\n')
  expect(physical.filter((line) => /[\r\n]/.test(line))).toEqual([])
  const longest = Math.max(...physical.map((line) => Buffer.byteLength(line)))
  const logical: string[] = []
  for (const line of physical) {
    if (line.startsWith(' ')) logical[logical.length - 1] += line.slice(1)
    else logical.push(line)
  }
  const lines = logical.map((line) => {
    expect(line).toMatch(/^[A-Z][A-Z0-9-]*[;:]/)
    const at = line.indexOf(':')
    const raw = line.slice(at + 1)
    return { name: line.slice(0, at), value: raw.replaceAll(/\\([\\;,nN])/g, (_, one: string) => (one.toLowerCase() === 'n' ? '\n' : one)) }
  })
  return { lines, longest }
}
const valuesOf = (text: string, name: string) =>
  readCalendar(text)
    .lines.filter((line) => line.name === name)
    .map((line) => line.value)

/** A second reader: the XML parser of another language. */
function readXml(text: string): { readonly id: string; readonly title: string; readonly updated: string; readonly summary: string }[] {
  const script = `import sys, json, xml.etree.ElementTree as E
a = '{http://www.w3.org/2005/Atom}'
r = E.fromstring(sys.stdin.buffer.read())
assert r.tag == a + 'feed' and r.find(a + 'id') is not None and r.find(a + 'title') is not None and r.find(a + 'updated') is not None
print(json.dumps([{k: e.find(a + k).text for k in ('id', 'title', 'updated', 'summary')} for e in r.findall(a + 'entry')]))`
  return JSON.parse(execFileSync('python3', ['-c', script], { input: text, encoding: 'utf8' }))
}

async function makeFeed(kind: string, vehicle = ''): Promise<string> {
  const made = await book.post('/feeds', { kind, vehicle })
  expect(made.statusCode).toBe(201)
  return new URL(/<p class="mono">([^<]+)</.exec(made.body)?.[1] as string).pathname
}
const plainGet = (url: string) => book.app.inject({ url })
const put = (on: string, changes: readonly Change[], title = 'Work') => {
  const saved = append(book.db, book.clock, book.actor, { vehicleId: book.vehicles[0] as string, effectiveOn: on, title, changes })
  if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
  return saved.value
}

describe('a calendar of what is due', () => {
  test('needs no cookie and sets none, is kept by nobody, and holds whole days under ids that stay', async () => {
    const path = await makeFeed('due')
    const reply = await plainGet(path)
    expect(reply.statusCode).toBe(200)
    expect(reply.headers['content-type']).toBe('text/calendar; charset=utf-8')
    expect(reply.headers['cache-control']).toBe('no-store')
    expect(reply.headers['set-cookie']).toBeUndefined()
    expect(valuesOf(reply.body, 'SUMMARY')).toEqual(['Look at the ground points again (Bramble)'])
    expect(valuesOf(reply.body, 'DTSTART;VALUE=DATE')).toEqual(['20270308'])
    expect(valuesOf(reply.body, 'UID')).toEqual([`grounds-2027.${book.vehicles[0]}@loombook`])
    expect((await plainGet(path)).body).toBe(reply.body)
    expect((await book.get('/feeds')).body).toContain('last fetched 25 November 2026')
  })

  const hostile = [
    'Look\r\nEND:VEVENT\r\nBEGIN:VALARM\r\nACTION:DISPLAY',
    'a;b,c\\d\\ne"f:g',
    'long '.repeat(40).trim(),
    `${'é'.repeat(120)}𝛀${'🔧'.repeat(30)}`,
    'x ]]> y <b>&amp;</b>',
    'tab\tnul\u0000bell\u0007 half\ud800 line\u2028separator',
  ]
  /** Each run of control characters and line separators as one space; half a character as the mark for one lost. */
  const plain = (text: string) => {
    const isBreak = (letter: string) =>
      letter < ' ' || (letter >= '\u007f' && letter < '\u00a0') || letter === '\u2028' || letter === '\u2029'
    const letters = [...text].map((letter) => (isBreak(letter) ? '\u0000' : letter === '\ud800' ? '\ufffd' : letter))
    return letters
      .filter((letter, n) => letter !== '\u0000' || letters[n - 1] !== '\u0000')
      .join('')
      .replaceAll('\u0000', ' ')
  }

  test.each(hostile.map((what) => [JSON.stringify(what).slice(0, 50), what]))('B29: %s', (_, what) => {
    const text = calendarOf([
      { vehicleId: 'v', vehicleName: 'Bram,ble;', key: 'k', what, on: '2027-03-08', recordedAt: '2026-11-25T12:00:00.000Z' },
    ])
    const { lines, longest } = readCalendar(text)
    expect(longest).toBeLessThanOrEqual(75)
    expect(lines.map((line) => line.name.split(';')[0])).toEqual(
      expect.arrayContaining(['BEGIN', 'VERSION', 'PRODID', 'UID', 'DTSTAMP', 'DTSTART', 'SUMMARY', 'END']),
    )
    expect(lines.filter((line) => line.name === 'BEGIN').map((line) => line.value)).toEqual(['VCALENDAR', 'VEVENT'])
    expect(lines.filter((line) => line.name === 'END').map((line) => line.value)).toEqual(['VEVENT', 'VCALENDAR'])
    expect(valuesOf(text, 'SUMMARY')).toEqual([`${plain(what)} (Bram,ble;)`])
  })

  test.each(hostile.map((title) => [JSON.stringify(title).slice(0, 50), title]))('B29, as Atom: %s', (_, title) => {
    const one = {
      placeId: book.vehicles[0] as string,
      title,
      vehicleName: 'Bramble & Co',
      effectiveOn: '2026-11-01',
      recordedAt: '2026-11-25T12:00:00.000Z',
    }
    const text = atomOf([one], { feedId: 'f', title: 'T', since: 'x' })
    expect(text).not.toContain(']]>')
    expect(readXml(text)).toEqual([
      { id: `urn:uuid:${one.placeId}`, title: plain(title), updated: one.recordedAt, summary: 'Bramble & Co, 2026-11-01' },
    ])
  })

  test('B29 from the form to the feed: a title with a line break and an alarm in it stays one line of one event', async () => {
    put('2026-11-01', [{ kind: 'due-set', key: 'evil', what: 'x\r\nBEGIN:VALARM\r\nTRIGGER:-PT5M', on: '2027-01-02' }], 'y\r\n]]></title>')
    const { body } = await plainGet(await makeFeed('due', book.vehicles[0]))
    expect(
      readCalendar(body)
        .lines.filter((line) => line.name === 'BEGIN')
        .map((line) => line.value),
    ).toEqual(['VCALENDAR', 'VEVENT', 'VEVENT'])
    expect(valuesOf(body, 'SUMMARY')).toContain('x BEGIN:VALARM TRIGGER:-PT5M (Bramble)')
    expect(readXml((await plainGet(await makeFeed('journal'))).body).map((one) => one.title)).toContain('y ]]></title>')
  })

  test('R20: the day of an event is the day that was set, whatever the time zone', () => {
    const script = `import { calendarOf } from '${join(import.meta.dirname, '../../server/pages/feeds/calendar.ts')}'
for (const on of ['2027-03-08', '2027-03-28', '2028-02-29']) console.log(/DTSTART[^\\r]*/.exec(calendarOf([{ vehicleId: 'v', vehicleName: 'V', key: 'k', what: 'w', on, recordedAt: '2026-11-25T12:00:00.000Z' }]))[0])`
    for (const TZ of ['UTC', 'America/Los_Angeles', 'Pacific/Kiritimati'])
      expect(
        execFileSync(process.execPath, ['--import', 'tsx', '--input-type=module', '-e', script], {
          env: { ...process.env, TZ },
          encoding: 'utf8',
        }).trim(),
        TZ,
      ).toBe('DTSTART;VALUE=DATE:20270308\nDTSTART;VALUE=DATE:20270328\nDTSTART;VALUE=DATE:20280229')
  })
})

describe('a feed of the journal', () => {
  test('tells days, titles and vehicles under ids that stay when an entry is corrected, and nothing of cost, reading or text', async () => {
    const vehicle = book.vehicles[0] as string
    const saved = await book.post(`/vehicles/${vehicle}/entries`, {
      ...{ verb: 'noted', on: '2026-11-20', title: 'Seen', text: 'A private word.', cost: '123.45', odometer: '223999', do: 'save' },
    })
    const path = await makeFeed('journal', vehicle)
    const first = await plainGet(path)
    expect(first.headers['content-type']).toBe('application/atom+xml; charset=utf-8')
    expect(first.headers['set-cookie']).toBeUndefined()
    for (const hidden of ['private', '123', '12345', '223999', 'Owner'])
      expect(first.body.replaceAll(/<id>[^<]*<\/id>/g, ''), hidden).not.toContain(hidden)
    const seen = readXml(first.body).find((one) => one.title === 'Seen')
    expect(seen?.summary).toBe('Bramble, 2026-11-20')
    await book.post(`${saved.headers.location}/corrections`, { title: 'Seen anew', on: '2026-11-21', text: '' })
    const then = readXml((await plainGet(path)).body)
    expect(then.find((one) => one.title === 'Seen')).toBeUndefined()
    expect(then.find((one) => one.title === 'Seen anew')).toMatchObject({ id: seen?.id, summary: 'Bramble, 2026-11-21' })
    expect(new Set(then.map((one) => one.id)).size).toBe(then.length)
    expect(then.length).toBeLessThanOrEqual(50)
  })
})

describe('an address that does not answer', () => {
  test('wrong, revoked and of the other kind are one and the same answer', async () => {
    const path = await makeFeed('due')
    const wrong = await plainGet(`/feeds/${'A'.repeat(43)}.ics`)
    expect(wrong.statusCode).toBe(404)
    const told = (reply: Awaited<ReturnType<typeof plainGet>>) => {
      const { date: _, ...headers } = reply.headers
      return [reply.statusCode, headers, reply.body]
    }
    const other = await plainGet(path.replace('.ics', '.atom'))
    const token = path.slice('/feeds/'.length, -'.ics'.length)
    const page = (await book.get('/feeds')).body
    expect(page).not.toContain(token)
    for (const [, feed] of page.matchAll(/name="feed" value="([0-9a-f]{64})"/g))
      expect((await book.post('/feeds/revocations', { feed: feed as string })).statusCode).toBe(303)
    const revoked = await plainGet(path)
    expect(told(revoked)).toEqual(told(wrong))
    expect(told(other)).toEqual(told(wrong))
    expect(JSON.stringify(wrong.headers)).not.toContain('set-cookie')
  })

  test('making and revoking need a sign-in and the token of the form', async () => {
    expect((await book.app.inject({ method: 'POST', url: '/feeds', payload: {} })).statusCode).not.toBe(201)
    expect((await book.post('/feeds', { _token: 'x' })).statusCode).toBe(403)
    expect((await plainGet('/feeds')).statusCode).toBe(303)
    expect((await book.post('/feeds', { kind: 'due', vehicle: 'nothing' })).statusCode).toBe(422)
    expect((await book.post('/feeds/revocations', { feed: 'nothing' })).statusCode).toBe(404)
  })
})

test('no log line holds the token of a feed, nor a cookie', async () => {
  expect(loggedAddress('/feeds/abc-_.ics?x=1')).toBe('/feeds/(token).ics?…')
  expect(loggedAddress('/feeds/abc')).toBe('/feeds/(token)')
  expect(loggedAddress('/vehicles/feeds/abc.ics')).toBe('/vehicles/feeds/abc.ics')
  const lines: string[] = []
  const log = { write: (line: string) => lines.push(line) }
  const app = await buildApp({ db: book.db, clock: book.clock, config: { data: '', host: '127.0.0.1', port: 0, timeZone: 'UTC' }, log })
  const path = await makeFeed('due')
  const token = path.slice('/feeds/'.length, -'.ics'.length)
  await app.inject({ url: path, headers: { cookie: 'loombook_session=very-secret' } })
  await app.inject({ url: `/feeds/${token}.atom` })
  await app.inject({ url: `/feeds/${token}` })
  expect(lines.join('')).toContain('/feeds/(token).ics')
  expect(lines.join('')).not.toContain(token)
  expect(lines.join('')).not.toContain('very-secret')
  await app.close()
})
