/** Past 200 lines: build pages as strangers meet them, and everything private looked for in every answer. */
import { writeFileSync } from 'node:fs'
import { request as rawRequest } from 'node:http'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { scopes, ticked } from '../../server/pages/b/scopes/index.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { newId } from '../../server/records/ids.ts'
import { append } from '../../server/records/journal.ts'
import { keepLeftover } from '../../server/records/leftovers.ts'
import { partsOf } from '../../server/records/parts.ts'
import { recordPurchase } from '../../server/records/purchases.ts'
import { people } from '../../server/records/schema.ts'
import { makeShare, PRIVATE, type Private, revokeShare, type Shows, sharesOf } from '../../server/records/shares.ts'
import { hashToken } from '../../server/records/tokens.ts'
import { countStock } from '../../server/records/stock.ts'
import { loggedAddress } from '../../server/web/logged-address.ts'
import { type Book, openBook, TODAY } from './book.ts'
import { faultsOf, textOf } from './markup.ts'

const ALL = scopes.map((scope) => scope.id)
/** One string for each private thing, as it must never be read unless that thing is let through. Those of several words are also written with others between them in the texts. */
const MARKS: Readonly<Record<Private, readonly string[]>> = {
  vin: ['VINMARK9QX7712'],
  plate: ['PLTMARK 42'],
  prices: ['76543.21', '87654.32', '65432'],
  suppliers: ['SUPMARK Stores'],
  places: ['DRAWERMARK nine', 'BOXMARK four'],
  names: ['NAMEMARK', 'GONEMARK'],
  addresses: ['YARDMARK', 'Mailmark', '55510019', '51.50123', 'Hiddenmark Lane'],
}
const NEVER = ['NOTESMARK', 'FILEMARK', 'EXIFMARK', 'XMPMARK', 'IPTCMARK', 'MAKERMARK', 'C2PAMARK', 'TAILMARK', 'THUMBMARK', 'OTHERMARK']
const SENTENCES = [
  'Car VINMARK9QX7712 and vin-mark 9qx7712, plate PLTMARK 42 or pltmark-42.',
  'Paid € 65432 at SUPMARK Stores; kept in DRAWERMARK nine and BOXMARK four.',
  'With NAMEMARK Oak, at YARDMARK Mews: Mailmark@example.org, +44 55510019 22, 51.50123, -0.12345, 7 Hiddenmark Lane.',
] as const
const WORDS = SENTENCES.join(' ')

let book: Book
let V = ''

beforeAll(async () => {
  book = await openBook()
  V = book.vehicles[0] as string
  await privateThings()
})
afterAll(() => book.close())

/** Every private thing of its own kind, and all of them again in words wherever somebody can write. */
async function privateThings(): Promise<void> {
  const { db, clock, actor } = book
  const helper = { ...actor, personId: newId(clock), name: 'NAMEMARK Oak' }
  const account = { nameFolded: 'namemark oak', passwordHash: 'scrypt$none', recordedAt: 'x' }
  db.insert(people)
    .values({ id: helper.personId, householdId: actor.householdId, name: helper.name, ...account })
    .run()
  const part = partsOf(db, actor, { contains: 'relay' })[0]?.id as string
  const wire = partsOf(db, actor, { contains: 'mm²' })[0]?.id as string
  const put = (title: string, changes: Parameters<typeof append>[3]['changes'], more: object = {}) => {
    const saved = append(db, clock, helper, { vehicleId: V, effectiveOn: '2026-11-01', title, changes, ...more })
    if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
    return saved.value.id
  }
  const said = { vin: MARKS.vin[0], plate: MARKS.plate[0], keptAt: 'YARDMARK Mews, Nowhere', make: 'Invented', notes: 'NOTESMARK' }
  put('Identity', [{ kind: 'described', vehicle: said as never }])
  for (const sentence of SENTENCES) put(sentence, [{ kind: 'noted', text: 'See the title.' }])
  const entry = put('Words', [{ kind: 'noted', text: WORDS }], { text: WORDS, cost_minor: 7_654_321 })
  put('More words', [
    { kind: 'serviced', component: 'r7', text: WORDS },
    { kind: 'unfinished', key: 'mark', components: ['fridge'], text: WORDS },
    { kind: 'due-set', key: 'mark', what: WORDS, on: '2027-01-01' },
    { kind: 'decided', considered: [{ words: WORDS.slice(0, 190), whyNot: '' }], why: WORDS },
    { kind: 'renamed', component: 'r7', name: 'NAMEMARK’s relay, PLTMARK 42, vinmark9qx7712' },
    { kind: 'measured', at: 'battery:+', quantity: 'voltage', value: 12.61 },
  ])
  for (const id of [part, wire]) {
    countStock(db, clock, actor, id, 3, 'DRAWERMARK nine')
    const bought = { partId: id, boughtOn: '2026-10-01', count: 2, price_minor: 8_765_432, supplier: 'SUPMARK Stores' }
    if (!recordPurchase(db, clock, actor, bought).ok) throw new Error('not bought')
  }
  if (!keepLeftover(db, clock, actor, { partId: wire, length_m: 2, place: 'BOXMARK four' }).ok) throw new Error('no leftover')
  db.$client.prepare("UPDATE vehicles SET notes = 'NOTESMARK'").run()
  await book.send(`/vehicles/${V}/photos`, {
    files: [{ name: 'FILEMARK.jpg', bytes: await dirtyJpeg() }],
    fields: { caption: WORDS.slice(0, 400) },
  })
  await book.send(`/entries/${entry}/photos`, { files: [{ name: 'FILEMARK.png', bytes: await plainPng('#135') }] })
  await book.send(`/vehicles/${book.vehicles[1]}/photos`, {
    files: [{ name: 'OTHERMARK.png', bytes: await plainPng('#531') }],
    fields: { caption: 'OTHERMARK' },
  })
  put('Sold', [{ kind: 'left', how: 'sold', to: 'GONEMARK Elm' }], { effectiveOn: '2026-11-20' })
}

const plainPng = (background: string) =>
  sharp({ create: { width: 60, height: 40, channels: 3, background } })
    .png()
    .toBuffer()

function segment(marker: number, body: Buffer | string): Buffer {
  const bytes = Buffer.isBuffer(body) ? body : Buffer.from(body, 'latin1')
  const head = Buffer.from([0xff, marker, 0, 0])
  head.writeUInt16BE(bytes.length + 2, 2)
  return Buffer.concat([head, bytes])
}

/** A picture with all that cameras and programs leave in one. */
async function dirtyJpeg(): Promise<Buffer> {
  const clean = await sharp({ create: { width: 300, height: 200, channels: 3, background: '#456' } })
    .withExif({
      IFD0: { Artist: 'EXIFMARK', Make: 'EXIFMARK' },
      IFD2: { UserComment: 'EXIFMARK', MakerNote: 'MAKERMARK' },
      IFD3: { GPSLatitudeRef: 'N', GPSMapDatum: 'EXIFMARK' },
    })
    .withIccProfile('p3')
    .jpeg()
    .toBuffer()
  return Buffer.concat([
    clean.subarray(0, 2),
    segment(0xe1, 'http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>XMPMARK</x:xmpmeta>'),
    segment(0xed, 'Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x08IPTCMARK'),
    segment(0xeb, 'JP\0\x01\0\0\0\x01\0\0\0\x20jumbc2pa C2PAMARK'),
    segment(0xe2, 'MPF\0MAKERMARK'),
    segment(0xe1, Buffer.concat([Buffer.from('Exif\0\0II*\0\x08\0\0\0\0\0\0\0\0\0'), Buffer.from('\xff\xd8THUMBMARK\xff\xd9', 'latin1')])),
    segment(0xfe, 'TAILMARK as a comment'),
    clean.subarray(2),
    Buffer.from('\0\0\0\x18ftypmp42TAILMARK', 'latin1'),
  ])
}

function shared(more: Partial<Shows> & { readonly expiresOn?: string } = {}): string {
  const { expiresOn = '2026-12-31', ...shows } = more
  const made = makeShare(book.db, book.clock, book.actor, {
    ...{ vehicleId: V, recipient: 'A buyer', expiresOn },
    shows: { v: 1, pages: ALL, lets: [], journalFrom: null, withoutPhotos: [], ...shows },
  })
  if (!made.ok) throw new Error(made.refusals[0]?.sentence)
  return made.value.token
}
/** Each question from an address of its own, so that no test uses up what another may ask. */
let asked = 0
const ask = (url: string, headers: Record<string, string> = {}, method: Method = 'GET', payload?: string) =>
  book.app.inject({
    url,
    headers,
    method,
    remoteAddress: `10.0.${++asked >> 8}.${asked & 255}`,
    ...(payload === undefined ? {} : { payload }),
  })
type Method = 'GET' | 'POST' | 'PUT' | 'DELETE' | 'PATCH' | 'OPTIONS' | 'HEAD'
type Reply = Awaited<ReturnType<typeof ask>>
/** All of an answer but the second it was sent. */
const whole = (reply: Reply) => {
  const { date: _, ...headers } = reply.headers
  return [reply.statusCode, headers, reply.rawPayload.toString('latin1')]
}
const plain = (text: string) => text.replaceAll('&amp;', '&')

/** Every answer under a link: whatever its pages lead to, followed to the end. */
async function walk(token: string): Promise<ReadonlyMap<string, Reply>> {
  const found = new Map<string, Reply>()
  const waiting = [`/b/${token}`]
  for (let url = waiting.pop(); url !== undefined; url = waiting.pop()) {
    if (found.has(url)) continue
    const reply = await ask(url)
    found.set(url, reply)
    const html = String(reply.headers['content-type']).startsWith('text/html') ? reply.body : ''
    for (const [, to = ''] of html.matchAll(/(?:href|src)="([^"]+)"/g)) {
      if (to.startsWith('/b/')) waiting.push(plain(to))
      else if (to.startsWith('#')) expect(html, to).toContain(` id="${to.slice(1)}"`)
      else if (to !== 'data:,') expect(['/static/app.css', '/static/on-paper.css']).toContain(to)
    }
  }
  return found
}

const walkText = async (token: string) => read(await walk(token))
/** What a reader of the answers meets, as text and as bytes, entities undone. */
function read(replies: ReadonlyMap<string, Reply>): string {
  return [...replies.values()]
    .map(
      (one) =>
        `${JSON.stringify(one.headers)}\n${one.rawPayload.toString('latin1')}\n${plain(one.body).replaceAll('&#39;', "'")}\n${drawnWords(one.body)}`,
    )
    .join('\n')
}
/** Words drawn, which are broken over lines, put together again. */
const drawnWords = (html: string) =>
  [...html.matchAll(/<(?:a|g)[^>]*><title>.*?<\/(?:a|g)>/gs)].map(([shape]) => plain(shape.replaceAll(/<[^>]*>/g, ' '))).join('\n')
const marksIn = (text: string, marks: readonly string[]) => {
  const bare = text.toLowerCase().replaceAll(/[\s-]/g, '')
  return marks.filter((mark) => bare.includes(mark.toLowerCase().replaceAll(/[\s-]/g, '')))
}

test('a link leads to every page that it shows, each sound, saying as of when, under headers that keep it off every list', async () => {
  const token = shared()
  const replies = await walk(token)
  const pages = [...replies].filter(([, reply]) => String(reply.headers['content-type']).startsWith('text/html'))
  expect(new Set(pages.map(([url]) => url.split(/[/?]/)[3] ?? ''))).toEqual(new Set(['', ...ALL.filter((one) => one !== 'overview')]))
  for (const [url, reply] of replies) {
    expect(reply.statusCode, url).toBe(200)
    expect(reply.headers, url).toMatchObject({
      'referrer-policy': 'no-referrer',
      'x-robots-tag': 'noindex, nofollow',
      'cache-control': 'private, no-store',
      'x-content-type-options': 'nosniff',
    })
    expect(reply.headers['set-cookie'], url).toBeUndefined()
  }
  for (const [url, reply] of pages) {
    expect(faultsOf(reply.body), url).toEqual([])
    expect(textOf(reply.body), url).toContain('As of 25 November 2026')
    expect(textOf(reply.body), url).toContain('disconnect the battery')
    expect(reply.body, url).not.toMatch(/<form|<script|_token/)
    expect(/<title>([^<]*)/.exec(reply.body)?.[1], url).not.toContain('Bramble')
    // A drawing has measures of its own: how many bytes it is sent in, how fast it is drawn.
    expect([...reply.body.replaceAll(/<svg class="drawing".*?<\/svg>/gs, '').matchAll(/<[a-z]/g)].length, url).toBeLessThanOrEqual(1500)
  }
  expect(
    [...replies.keys()]
      .filter((url) => url.includes('/p/'))
      .sort()
      .map((url) => url.split('/p/')[1]),
  ).toEqual(['photo-1.jpg', 'photo-2.jpg', 'small-1.jpg', 'small-2.jpg'])
  expect((await ask('/robots.txt')).body).toBe('User-agent: *\nDisallow: /b/\n')
  expect((await ask('/robots.txt')).headers['set-cookie']).toBeUndefined()
})

test('what each page tells: fitted with ratings, wired with fuses and cross-sections, done, open with its arithmetic, unknown counted', async () => {
  const token = shared()
  const text = async (page: string) => textOf((await ask(`/b/${token}${page}`)).body)
  expect(await text('')).toMatch(/Make Invented.*12 V.*could not be judged.*Not known is not passed/)
  expect(await text('/parts')).toContain('not known:')
  expect(await text('/wiring')).toMatch(/Protected by .*F1.*\(15 A\)/)
  expect(await text('/wiring')).toMatch(/50 mm², 0\.15 m/)
  // Every way begins at a source.
  const ways = [...(await ask(`/b/${token}/wiring`)).body.matchAll(/<ol class="way"><li>([^<]+)/g)].map((one) => one[1]?.trim())
  expect(new Set(ways)).toEqual(new Set(['Alternator']))
  expect(await text('/findings')).toMatch(/These could not be judged\. They are no passes\./)
  expect(await text('/findings')).toMatch(/Share of the limit used/)
  expect(await text('/readings')).toContain('12.61 V')
  expect(`${await text('/journal')} ${await text('/journal?page=2')}`).toContain('Recorded as bought')
})

test('on its fuse charts no heading stands more than a level below the one before it', async () => {
  const { body } = await ask(`/b/${shared()}/fuses`)
  const levels = [...body.matchAll(/<h([1-6])[ >]/g)].map((found) => Number(found[1]))
  expect(levels.length).toBeGreaterThan(5)
  levels.forEach((level, n) => {
    expect(level - (levels[n - 1] ?? 0)).toBeLessThanOrEqual(1)
  })
  // Each card stands under the name of its box.
  expect(body).toMatch(/<h3 class="screen">Block B/)
  expect([...body.matchAll(/<h(\d) id="card-/g)].map((found) => found[1])).toEqual(
    [...body.matchAll(/<section class="card /g)].map(() => '4'),
  )
})

test('its fuse charts are the owner’s own, spares left out, with every name of what a fuse feeds', async () => {
  const rowsOf = (body: string) =>
    [...body.matchAll(/<table class="chart[^"]*">.*?<tbody>(.*?)<\/tbody>/gs)].flatMap(([, rows = '']) =>
      [...rows.matchAll(/<tr>(.*?)<\/tr>/gs)].map(([, row = '']) =>
        [...row.matchAll(/<t[hd][^>]*>([^<]*)</g)].map(([, cell = '']) => cell),
      ),
    )
  const own: string[][] = []
  for (const box of ['block', 'house-block', '-']) own.push(...rowsOf((await book.get(`/vehicles/${V}/fuse-box/${box}/chart`)).body))
  const shown = rowsOf((await ask(`/b/${shared({ lets: [...PRIVATE] })}/fuses`)).body)
  expect(own.length).toBe(20)
  expect(shown.map((cells) => cells.filter((_, n) => n !== 3))).toEqual(own.map((cells) => cells.slice(0, 5).filter((_, n) => n !== 3)))
  shown.forEach((cells, n) => {
    const short = (own[n] as string[])[3] as string
    if (short.includes(' more')) expect((cells[3] as string).startsWith(short.replace(/; and \d+ more$/, ''))).toBe(true)
    else expect(cells[3]).toBe(short)
    expect(cells[3]).not.toMatch(/ more$/)
  })
  expect(shown.find((cells) => cells[0] === 'Switch supply fuse')?.[3]?.split('; ').length).toBe(8)
})

describe('what is private', () => {
  test('the marks are here: the owner’s own pages hold them', async () => {
    const own = [`/vehicles/${V}/journal`, `/vehicles/${V}/identity`, `/vehicles/${V}/photos`].map((url) => book.get(url))
    const text = (await Promise.all(own)).map((one) => plain(one.body)).join('\n')
    expect(marksIn(text, [...(MARKS.vin as string[]), ...(MARKS.plate as string[]), 'YARDMARK', 'SUPMARK Stores'])).toHaveLength(4)
  })

  const cases: readonly (readonly [string, readonly Private[]])[] = [
    ['nothing ticked', []],
    ...PRIVATE.map((one) => [`only ${one} ticked`, [one]] as const),
    ...PRIVATE.map((one) => [`all but ${one} ticked`, PRIVATE.filter((other) => other !== one)] as const),
    ['all ticked', PRIVATE],
  ]
  test.each(cases)('%s: each tick lets its own field through, and no other', async (_, lets) => {
    const text = read(await walk(shared({ lets })))
    for (const one of PRIVATE) expect(marksIn(text, MARKS[one]), one).toEqual(lets.includes(one) ? MARKS[one] : [])
    expect(marksIn(text, NEVER)).toEqual([])
  })

  test.each(ticked.map((scope) => scope.id))('a link for %s alone shows that page and no other, and nothing private', async (page) => {
    const token = shared({ pages: [page] })
    const replies = await walk(token)
    const text = read(replies)
    for (const one of PRIVATE) expect(marksIn(text, MARKS[one]), one).toEqual([])
    expect(marksIn(text, NEVER)).toEqual([])
    const along = scopes.filter((one) => one.goesWith === page).map((one) => one.id)
    for (const other of along) expect((await ask(`/b/${token}/${other}`)).statusCode, other).toBe(200)
    for (const other of ALL.filter((one) => one !== page && one !== 'overview' && !along.includes(one)))
      expect((await ask(`/b/${token}/${other}`)).statusCode, other).toBe(404)
    if (page !== 'photos') expect((await ask(`/b/${token}/p/photo-1.jpg`)).statusCode).toBe(404)
    if (page !== 'overview') expect(textOf((await ask(`/b/${token}`)).body)).not.toContain('Odometer')
  })

  test('what goes with the wiring is shown by its tick alone; names in a drawing are left out, and so are keys made from names and verdicts', async () => {
    const asked = async (token: string, page: string) => (await ask(`/b/${token}/${page}`)).body
    const token = shared({ pages: ['wiring'] })
    for (const page of ['drawing', 'currents', 'fuses']) {
      expect((await ask(`/b/${shared({ pages: ['parts', page] })}/${page}`)).statusCode, page).toBe(404)
      if (page === 'fuses') continue
      const body = await asked(token, page)
      const drawn = body.slice(body.indexOf('<svg class="drawing"'), body.lastIndexOf('</svg>'))
      expect(drawn, page).toContain('[left out]')
      expect(drawn, page).not.toMatch(/href="[^#]|id="n-/)
      const open = shared({ pages: ['wiring'], lets: [...PRIVATE] })
      expect(marksIn(drawnWords(await asked(open, page)), ['NAMEMARK', 'PLTMARK 42']), page).toEqual(['NAMEMARK', 'PLTMARK 42'])
    }
    const verdicts = (body: string) => [...body.matchAll(/data-label="Verdict">([^<]*)/g)].filter(([, one]) => one !== '').length
    expect(verdicts(await asked(token, 'currents'))).toBe(0)
    expect(verdicts(await asked(shared({ pages: ['wiring', 'findings'] }), 'currents'))).toBeGreaterThan(0)
  })

  test('every pair of pages', async () => {
    for (const [n, one] of ALL.entries())
      for (const other of ALL.slice(n + 1)) {
        const text = read(await walk(shared({ pages: [one, other] })))
        expect(marksIn(text, [...PRIVATE.flatMap((of) => MARKS[of]), ...NEVER]), `${one} and ${other}`).toEqual([])
      }
  })

  test('a journal from a day on tells nothing of before; a photo taken off a link, in the trash or newer than it is not on it', async () => {
    const late = shared({ journalFrom: '2024-01-01' })
    const told = async (token: string) => (await walkText(token)).includes('Recorded as bought')
    expect([await told(late), await told(shared())]).toEqual([false, true])
    // What work cost before that day is left out with it.
    const years = async (token: string) => [
      ...new Set([...(await ask(`/b/${token}/costs`)).body.matchAll(/>(20\d\d)<\/th>/g)].map(([, year]) => year)),
    ]
    const [all, since] = [await years(shared({ lets: ['prices'] })), await years(shared({ lets: ['prices'], journalFrom: '2024-01-01' }))]
    expect(all.length).toBeGreaterThan(since.length)
    expect(since.every((year) => String(year) >= '2024')).toBe(true)
    const id = String(book.db.$client.prepare('SELECT min(id) FROM photos WHERE vehicle_id = ?').pluck().get(V))
    const without = shared({ withoutPhotos: [id] })
    expect((await ask(`/b/${without}/p/photo-1.jpg`)).statusCode).toBe(200)
    expect((await ask(`/b/${without}/p/photo-2.jpg`)).statusCode).toBe(404)
    const before = shared()
    const photo = { id: newId(book.clock), recorded: '2026-11-26T00:00:00.000Z' }
    book.db.$client
      .prepare(
        `INSERT INTO photos SELECT ?, household_id, vehicle_id, NULL, part_id, component_key, sha256, type, bytes, width_px, height_px, file_name,
         'Taken later', NULL, trashed_at, ?, recorded_by FROM photos WHERE id = ?`,
      )
      .run(photo.id, photo.recorded, id)
    expect((await ask(`/b/${before}/p/photo-3.jpg`)).statusCode).toBe(404)
    book.db.$client.prepare('DELETE FROM photos WHERE id = ?').run(photo.id)
    await book.post(`/photos/${id}/trash`, {})
    expect((await ask(`/b/${before}/p/photo-2.jpg`)).statusCode).toBe(404)
    await book.post(`/photos/${id}/restorations`, {})
    expect((await ask(`/b/${before}/p/photo-2.jpg`)).statusCode).toBe(200)
  })
})

describe('B9: an address that shows nothing', () => {
  const never = `/b/${'A'.repeat(43)}`
  const swapped = (token: string) => [...token].map((one) => (one === one.toUpperCase() ? one.toLowerCase() : one.toUpperCase())).join('')

  test('B9: wrong, cut short, in other capitals, with NUL, far too long, expired, taken back, of another’s photo: one and the same answer', async () => {
    const token = shared()
    const over = shared()
    const gone = shared()
    book.db.$client.prepare('UPDATE shares SET expires_at = ? WHERE token_hash = ?').run('2026-11-25T11:59:59.999Z', hashToken(over))
    const row = String(book.db.$client.prepare('SELECT id FROM shares WHERE token_hash = ?').pluck().get(hashToken(gone)))
    expect(revokeShare(book.db, book.clock, book.actor, { vehicleId: V, id: row })).toBe(true)
    const off = `${token.slice(0, -1)}${token.endsWith('A') ? 'B' : 'A'}`
    const addresses = [
      ...[
        off,
        token.slice(0, -1),
        token.slice(0, 8),
        swapped(token),
        `${token}A`,
        `${token}%00`,
        `%00${token}`,
        'x'.repeat(10_000),
        over,
        gone,
      ],
      ...['', '%20', '..%2f..', encodeURIComponent("' OR 1=1 --")],
    ].flatMap((one) => [`/b/${one}`, `/b/${one}/parts`, `/b/${one}/p/photo-1.jpg`])
    const own = [
      'nothing',
      'overview',
      'p/photo-3.jpg',
      'p/photo-0.jpg',
      'p/photo-1.png',
      `p/${V}`,
      'p',
      'p/..%2fapp.db',
      'parts/more',
      'toString',
    ]
    const wrong = whole(await ask(never))
    expect(wrong[0]).toBe(404)
    for (const url of [...addresses, ...own.map((one) => `/b/${token}/${one}`), '/b', '/b/'])
      expect(whole(await ask(url)), url.slice(0, 80)).toEqual(wrong)
    expect(JSON.stringify(wrong[1])).not.toContain('set-cookie')
    for (const url of ['/b/%zz', `/b/${token}%zz`]) {
      const reply = await ask(url)
      expect([400, 404], url).toContain(reply.statusCode)
      expect(reply.headers['set-cookie'], url).toBeUndefined()
    }
  })

  test('B9: a link ends with its day, and at once when it is taken back, its photos too', async () => {
    const token = shared({ expiresOn: TODAY })
    expect((await ask(`/b/${token}`)).statusCode).toBe(200)
    const later = await buildApp({ db: book.db, clock: fixedClock('2026-11-26T00:00:00Z'), config: config() })
    expect((await later.inject(`/b/${token}`)).statusCode).toBe(404)
    await later.close()
    const [link] = sharesOf(book.db, book.clock, book.actor, V)
    expect((await ask(`/b/${token}/p/photo-1.jpg`)).statusCode).toBe(200)
    await book.post(`/vehicles/${V}/hand-over/${link?.id}/revocations`, {})
    expect((await ask(`/b/${token}/p/photo-1.jpg`)).statusCode).toBe(404)
    expect((await ask(`/b/${token}`)).statusCode).toBe(404)
  })

  test('B9: whoever tries too many is told so whatever is asked for: right and wrong are then one answer, and other addresses are not held up', async () => {
    const app = await buildApp({ db: book.db, clock: book.clock, config: config() })
    const from = (url: string, remoteAddress: string) => app.inject({ url, remoteAddress })
    const token = shared()
    for (let n = 0; n < 60; n++) expect((await from(`/b/${'B'.repeat(42)}${n % 10}`, '192.0.2.7')).statusCode).toBe(404)
    const held = whole(await from(`/b/${token}`, '192.0.2.7'))
    expect(held[0]).toBe(429)
    expect(whole(await from(never, '192.0.2.7'))).toEqual(held)
    expect(whole(await from(`/b/${token}/p/photo-1.jpg`, '192.0.2.7'))).toEqual(held)
    expect((await from(`/b/${token}`, '192.0.2.8')).statusCode).toBe(200)
    expect((await from('/login', '192.0.2.7')).statusCode).toBe(200)
    for (let n = 0; n < 60; n++) await from(never, `2001:db8:0:1::${n.toString(16)}`)
    expect((await from(`/b/${token}`, '2001:db8:0:1:ffff::1')).statusCode).toBe(429)
    expect((await from(`/b/${token}`, '2001:db8:0:2::1')).statusCode).toBe(200)
    await app.close()
  })

  test('B9: no log line and no entry of the security log holds a token, however its address is written', async () => {
    const lines: string[] = []
    const app = await buildApp({ db: book.db, clock: book.clock, config: config(), log: { write: (line: string) => lines.push(line) } })
    const token = shared()
    const written = ['/b/', '/%62/', '//b/', '/B/', '/b//', '/b/%2e%2e/b/'].map((start) => `${start}${token}`)
    for (const url of [...written, `/b/${token}/parts?x=${token}`, `/b/${token}%zz`, `/b/${token}/p/photo-1.jpg`])
      for (const method of ['GET', 'POST', 'DELETE'] as const)
        await app.inject({ url, method, ...(method === 'POST' ? { payload: { _token: 'x' } } : {}), headers: { cookie: book.cookie } })
    await app.close()
    expect(lines.join('')).toContain('/b/(token)')
    expect(lines.join('')).not.toContain(token)
    expect(JSON.stringify(book.db.$client.prepare('SELECT * FROM security_events').all())).not.toContain(token)
    expect(JSON.stringify(book.db.$client.prepare('SELECT * FROM shares').all())).not.toContain(token)
    expect(loggedAddress('http://h/b/secret/x')).toBe('/b/(token)')
    expect(loggedAddress('/branches/b/open')).toBe('/branches/b/open')
  })
})

describe('B10: nobody is anybody there', () => {
  test('B10: the same bytes for the owner, a stranger, a script and with anything hung on the address', async () => {
    const token = shared()
    for (const [url, reply] of await walk(token)) {
      const same = whole(reply)
      for (const headers of [
        { cookie: book.cookie },
        { 'hx-request': 'true', 'hx-target': 'x' },
        { accept: 'application/json', cookie: book.cookie },
      ] as Record<string, string>[])
        expect(whole(await ask(url, headers)), url).toEqual(same)
      expect(whole(await ask(`${url}${url.includes('?') ? '&' : '?'}edit=1`)), url).toEqual(same)
    }
    const wrong = whole(await ask(`/b/${'C'.repeat(43)}`))
    expect(whole(await ask(`/b/${'C'.repeat(43)}`, { cookie: book.cookie, 'hx-request': 'true' }))).toEqual(wrong)
    // However it is written, no cookie counts and none is set.
    for (const url of [`/%62/${token}`, `/b/${token}/`]) {
      const [stranger, owner] = [await ask(url), await ask(url, { cookie: book.cookie })]
      expect(whole(owner), url).toEqual(whole(stranger))
      expect(stranger.headers['set-cookie'], url).toBeUndefined()
    }
  })

  test.each(['POST', 'PUT', 'DELETE', 'PATCH', 'OPTIONS'] as const)(
    'B10: %s does nothing, with a token that is right or wrong',
    async (method) => {
      const token = shared()
      const changed = () => Number(book.db.$client.prepare('SELECT total_changes()').pluck().get())
      const before = changed()
      const wrong = whole(await ask('/b/wrong', {}, method))
      expect(wrong[0]).toBe(404)
      for (const url of [`/b/${token}`, `/b/${token}/parts`, `/b/${token}/p/photo-1.jpg`, '/b'])
        for (const headers of [{}, { cookie: book.cookie, 'content-type': 'application/x-www-form-urlencoded' }])
          expect(whole(await ask(url, headers, method, method === 'OPTIONS' ? undefined : `_token=${book.token}&_at=/x`)), url).toEqual(
            wrong,
          )
      expect(changed()).toBe(before)
    },
  )

  test('B10: a way up out of a link leads nowhere, signed in or not', async () => {
    const token = shared()
    const address = new URL(await book.app.listen({ host: '127.0.0.1', port: 0 }))
    // Sent as it stands: a client that tidies addresses would never send these.
    const raw = (path: string) =>
      new Promise<{ status: number; body: string; cookie: unknown }>((resolve, reject) => {
        const sent = rawRequest({ host: address.hostname, port: address.port, path, headers: { cookie: book.cookie } }, (reply) => {
          let body = ''
          reply.on('data', (piece) => (body += piece))
          reply.on('end', () => resolve({ status: reply.statusCode ?? 0, body, cookie: reply.headers['set-cookie'] }))
        })
        sent.on('error', reject)
        sent.end()
      })
    const nothing = await raw('/b/nothing')
    for (const path of [`/b/${token}/../settings`, `/b/${token}/../../settings`, `/b/${token}/..`, '/b/../settings', `/b/${token}/./parts`])
      expect(await raw(path), path).toEqual(nothing)
  })

  test('a look at a page is noted once a minute at most, and pages answer where nothing can be written', async () => {
    const token = shared()
    const link = () => sharesOf(book.db, book.clock, book.actor, V)[0]
    expect(link()?.lastUsedAt).toBeNull()
    await ask(`/b/${token}`)
    expect(link()?.lastUsedAt).toBe('2026-11-25T12:00:00.000Z')
    const other = shared()
    book.db.$client.pragma('query_only = ON')
    expect((await ask(`/b/${other}`)).statusCode).toBe(200)
    book.db.$client.pragma('query_only = OFF')
  })

  test('B40: while another program holds the records one is told when to come again, and nothing of why', async () => {
    const token = shared()
    const held = vi.spyOn(book.db, 'select').mockImplementation(() => {
      throw Object.assign(new Error('database is locked'), { code: 'SQLITE_BUSY' })
    })
    const reply = await ask(`/b/${token}`)
    held.mockRestore()
    expect([reply.statusCode, reply.headers['retry-after']]).toEqual([503, '5'])
    expect(reply.body).not.toMatch(/database|locked|SQLITE/i)
    expect((await ask(`/b/${token}`)).statusCode).toBe(200)
  })
})

/** Segments of a JPEG by their markers (ITU-T T.81, annex B), and how many bytes follow its end. */
function segmentsOf(bytes: Buffer): { readonly markers: readonly number[]; readonly after: number } {
  const markers: number[] = []
  let at = 2
  expect(bytes.readUInt16BE(0)).toBe(0xffd8)
  while (at < bytes.length) {
    expect(bytes[at]).toBe(0xff)
    const marker = bytes[at + 1] as number
    markers.push(marker)
    if (marker === 0xd9) return { markers, after: bytes.length - at - 2 }
    at += 2 + bytes.readUInt16BE(at + 2)
    if (marker === 0xda)
      while (!(bytes[at] === 0xff && bytes[at + 1] !== 0 && !((bytes[at + 1] as number) >= 0xd0 && (bytes[at + 1] as number) <= 0xd7))) at++
  }
  throw new Error('no end')
}
/** JFIF's own, tables, frames, scans, end: what a decoder needs. */
const NEEDED = [0xe0, 0xdb, 0xc0, 0xc1, 0xc2, 0xc4, 0xdd, 0xda, 0xd9]

describe('B11: a photo for strangers', () => {
  test('B11: the scan sees what the original carries', async () => {
    const { markers, after } = segmentsOf(await dirtyJpeg())
    expect(markers).toEqual(expect.arrayContaining([0xe1, 0xe2, 0xeb, 0xed, 0xfe]))
    expect(after).toBeGreaterThan(0)
  })

  test('B11: EXIF with place, XMP, IPTC, maker’s notes, thumbnail, C2PA, profile, comment, trailer and name are gone, at both sizes and from each kind', async () => {
    const own = await openBook()
    const vehicle = own.vehicles[0] as string
    const tagged = sharp({ create: { width: 300, height: 200, channels: 3, background: '#654' } }).withExif({
      IFD0: { Artist: 'EXIFMARK' },
      IFD3: { GPSMapDatum: 'EXIFMARK' },
    })
    const files = [
      { name: 'PLTMARK 42.jpg', bytes: await dirtyJpeg() },
      { name: 'FILEMARK.png', bytes: await tagged.clone().png().toBuffer() },
      { name: 'FILEMARK.webp', bytes: await tagged.clone().resize(290).webp().toBuffer() },
      { name: 'FILEMARK.avif', bytes: await tagged.clone().resize(280).avif().toBuffer() },
    ]
    for (const file of files) {
      expect(file.bytes.toString('latin1'), file.name).toContain('EXIFMARK')
      expect((await own.send(`/vehicles/${vehicle}/photos`, { files: [file] })).statusCode).toBe(303)
    }
    const made = makeShare(own.db, own.clock, own.actor, {
      ...{ vehicleId: vehicle, recipient: 'A buyer', expiresOn: '2026-12-31' },
      shows: { v: 1, pages: ['photos'], lets: [...PRIVATE], journalFrom: null, withoutPhotos: [] },
    })
    if (!made.ok) throw new Error('no link')
    for (const [n] of files.entries())
      for (const kind of ['photo', 'small']) {
        const name = `${kind}-${n + 1}.jpg`
        const reply = await own.app.inject(`/b/${made.value.token}/p/${name}`)
        expect(reply.statusCode, name).toBe(200)
        expect(reply.headers).toMatchObject({ 'content-type': 'image/jpeg', 'content-disposition': `inline; filename="${name}"` })
        expect(JSON.stringify(reply.headers)).not.toMatch(/PLTMARK|FILEMARK/)
        const { markers, after } = segmentsOf(reply.rawPayload)
        expect(
          markers.filter((one) => !NEEDED.includes(one)),
          name,
        ).toEqual([])
        expect(after, name).toBe(0)
        expect(marksIn(reply.rawPayload.toString('latin1'), [...NEVER, 'PLTMARK', 'Exif', 'http', 'ICC_PROFILE', 'ftyp']), name).toEqual([])
        // Pictures are read from files alone here.
        const kept = join(own.data, name)
        writeFileSync(kept, reply.rawPayload)
        const { exif, xmp, icc, iptc, orientation, width } = await sharp(kept).metadata()
        expect([exif, xmp, icc, iptc, orientation], name).toEqual([undefined, undefined, undefined, undefined, undefined])
        expect(width).toBeGreaterThan(200)
      }
    await own.close()
  })
})

function config() {
  return { data: book.data, host: '127.0.0.1', port: 0, timeZone: 'UTC' }
}
