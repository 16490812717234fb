/** B22, B23: whatever is typed, in every field that takes free text, is shown as text wherever it is shown, and nowhere becomes anything else. */
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type FormOf, formsOf } from './forms-of.ts'
import { parsed, saidOn, structureOf } from './parsed.ts'
import { asNamed, openWorded, type Worded } from './worded-household.ts'

/** What design names, put together where one does not hide another; what counts only at the beginning stands there. */
const HOSTILE = [
  '<script>alert(1)</script>"><img src=x onerror=alert(1)>',
  "' onfocus=alert(1) x='<div hx-get=/logout hx-trigger=load>",
  `{{7*7}}\${7*7}<%= 7*7 %>x\r\nSet-Cookie: odd=1\r\n\r\n<b>x</b>`,
  'javascript:alert(1)',
  'data:text/html,<b>x</b>',
  '&#x6a;avascript:alert(1)&lt;b&gt;&amp;amp;</p></div></main>',
  '\u202Egnp.exe Z\u200dW\u2066<i>![x](http://odd.example/a.png)[x](javascript:x)',
  '</textarea></title></svg><b>x</b><a href="x',
  '<!-- ]]><b>x',
]
/** Letters of the same length, with spaces and line ends at the same places. */
const harmless = (text: string, n: number) => text.replaceAll(/[^\s]/g, 'abcdefghijklmnopqrstuvwxyz'[n] as string)

let hostile: Worded
let plain: Worded
beforeAll(async () => {
  hostile = await openWorded(HOSTILE)
  plain = await openWorded(HOSTILE.map(harmless))
}, 60_000)
afterAll(async () => {
  await hostile?.book.close()
  await plain?.book.close()
})

/** So many addresses of each shape are looked at: a third of the texts, others of them for the next shape. */
const OF_A_SHAPE = 3
/** Where links lead that are followed: not out of the session, and no files that are only bytes. */
const NOT_FOLLOWED = /^\/(static|sessions|api-guide|rules)|\/(thumbnail|picture)$|archive\/download|second-factor|passkeys\/new/
/** Forms that end what the test stands on, reach out to other machines or take long. */
const NOT_SENT =
  /^\/sessions\/end|\/ends$|second-factor|restorations|backups|settings|demonstration|imports?$|\/tests$|^\/account\/passkeys$/

type Pair = { readonly odd: string; readonly usual: string }
type Answer = Awaited<ReturnType<Worded['book']['get']>>
type Seen = Pair & { readonly answers: readonly [odd: Answer, usual: Answer] }
const seen: Seen[] = []
/** The same form on both sides. */
const forms = new Map<string, readonly [odd: FormOf, usual: FormOf]>()

/** Both households walked side by side: the same links in the same order, or there is more on one of the two pages. */
async function walk(): Promise<void> {
  const first = [
    ...['/', '/shelf', '/due', '/feeds', '/costs', '/people', '/tokens', '/webhooks', '/account', '/security', '/trash', '/operations'],
    ...['/settings', '/archive', '/search', '/decisions/new', '/vehicles/new', '/shelf/new?kind=fuse'],
  ]
  const queue: Pair[] = [
    ...first.map((one) => ({ odd: one, usual: one })),
    ...hostile.starts.map((odd, n) => ({ odd, usual: plain.starts[n] as string })),
  ]
  const [met, shapes] = [new Set<string>(), new Map<string, number>()]
  for (let next = queue.shift(); next !== undefined; next = queue.shift()) {
    const shape = shapeOf(next.odd)
    if (met.has(next.odd) || NOT_FOLLOWED.test(next.odd)) continue
    met.add(next.odd)
    const often = (shapes.get(shape) ?? shapes.size % 2) + 1
    shapes.set(shape, often)
    const isSpecial = first.includes(next.odd) || hostile.starts.includes(next.odd)
    if (!isSpecial && (often > 2 * OF_A_SHAPE || often % 2 === 0)) continue
    const answers = [await hostile.book.get(next.odd), await plain.book.get(next.usual)] as const
    seen.push({ ...next, answers })
    if (!isPage(answers[0]) || !isPage(answers[1])) continue
    const [links, others] = [linksOn(answers[0].body), linksOn(answers[1].body)]
    for (const [n, odd] of links.entries()) if (others[n] !== undefined) queue.push({ odd, usual: others[n] })
    const [odd, usual] = [formsOf(answers[0].body), formsOf(answers[1].body)]
    for (const [n, form] of odd.entries())
      if (usual[n] !== undefined && !NOT_SENT.test(form.action)) forms.set(`${shapeOf(form.action)} ${fieldNames(form)}`, [form, usual[n]])
  }
}

const isPage = ({ headers }: Answer) => String(headers['content-type']).startsWith('text/html')
const ID = /[0-9a-f]{8}-[0-9a-f-]{27}|\/b\/[\w-]+|\/feeds\/[\w-]{43}/g
const fieldNames = (form: FormOf) => form.fields.map(({ name }) => name.replaceAll(ID, ':id')).join()
const shapeOf = (url: string) =>
  url
    .replaceAll(ID, ':id')
    .replaceAll(/\/components\/[^/?]+/g, '/components/:key')
    .replaceAll(/\/findings\/[^/?]+\/[^/?]+/g, '/findings/:rule/:key')
    .replaceAll(/\?(.*)/g, (_, query: string) => `?${[...new URLSearchParams(query).keys()].join().slice(0, 30)}`)
function linksOn(body: string): readonly string[] {
  return parsed(body).flatMap((token) => {
    const href = token.is === 'start' && token.name === 'a' ? token.attributes.get('href') : undefined
    return href?.startsWith('/') ? [href.split('#')[0] as string] : []
  })
}

/** What is wrong with an answer to hostile words, beside the answer to harmless ones; in words. */
function faultsOf({ odd, answers: [answer, usual] }: Seen): readonly string[] {
  const faults: string[] = []
  if (answer.statusCode >= 500) faults.push(`${answer.statusCode}`)
  if (answer.statusCode !== usual.statusCode) faults.push(`answered ${answer.statusCode}, not ${usual.statusCode}`)
  const names = ({ headers }: Answer) => Object.keys(headers).sort().join()
  if (names(answer) !== names(usual)) faults.push(`headers ${names(answer)}, not ${names(usual)}`)
  // RFC 9110, 5.5: what is seen, spaces and tabs.
  for (const [name, value] of Object.entries(answer.headers))
    if (!/^[\t\x20-\x7e]*$/.test(String(value))) faults.push(`the header ${name} holds ${JSON.stringify(value)}`)
  // RFC 6266: a name in quotation marks without any inside, and the true one in escapes.
  const disposition = String(answer.headers['content-disposition'] ?? 'inline; filename="x"')
  if (!/^(inline|attachment); filename="[\w .-]+"(; filename\*=UTF-8''[\w.~!$&+^`|%#-]*)?$/.test(disposition)) faults.push(disposition)
  if (!/^(\/(?!\/)|$)/.test(String(answer.headers.location ?? ''))) faults.push(`leads to ${answer.headers.location}`)
  if (/html|xml/.test(String(answer.headers['content-type']))) {
    const [is, as] = [linesAsOne(answer.body), linesAsOne(usual.body)]
    const n = is.findIndex((tag, at) => tag !== as[at])
    if (n >= 0 || is.length !== as.length) faults.push(`tag ${n}: ${is[n]}, not ${as[n]}`)
    faults.push(...addressesOn(answer.body).filter((one) => !/^(\/(?!\/)|#|\?|data:,$|http:\/\/localhost:80\/)/.test(one)))
  }
  return faults.map((fault) => `${odd}: ${fault}`)
}

/** A drawing breaks a long label by its width, into as many texts as it needs. */
function linesAsOne(body: string): readonly string[] {
  return structureOf(body).filter((tag, at, all) => !(/^<\/?text\b/.test(tag) && tag === all[at - 2]))
}

const LEADING = ['href', 'src', 'action', 'formaction', 'xlink:href', 'hx-get', 'hx-post', 'srcset', 'poster', 'data', 'background']
function addressesOn(body: string): readonly string[] {
  return parsed(body).flatMap((token) =>
    token.is === 'start' ? [...token.attributes].flatMap(([name, value]) => (LEADING.includes(name) && value !== '' ? [value] : [])) : [],
  )
}

describe('B22: pages, their pieces, files and feeds, with every text of the household hostile', () => {
  beforeAll(walk, 120_000)

  test('the same elements and attributes as with harmless letters, no header more, and no address of anybody else', () => {
    expect(seen.length).toBeGreaterThan(250)
    expect(seen.flatMap(faultsOf)).toEqual([])
  })

  test('each text is read as it was typed, on many pages', () => {
    for (const text of HOSTILE) {
      const pages = seen.filter(({ answers: [answer] }) => isPage(answer) && saidOn(answer.body).some((one) => one.includes(text)))
      expect(new Set(pages.map(({ odd }) => shapeOf(odd))).size, text).toBeGreaterThan(20)
    }
  })

  test('a calendar: no line more than with harmless letters, each of at most 75 octets (RFC 5545, 3.1)', () => {
    const calendars = seen.filter(({ answers: [answer] }) => String(answer.headers['content-type']).startsWith('text/calendar'))
    expect(calendars.length).toBe(1)
    for (const { answers } of calendars) {
      for (const line of answers[0].body.split('\r\n')) expect(Buffer.byteLength(line), line).toBeLessThanOrEqual(75)
      const [odd, usual] = answers.map(({ body }) => body.replaceAll('\r\n ', '').split('\r\n'))
      expect(odd?.map((line) => line.split(/[:;]/)[0])).toEqual(usual?.map((line) => line.split(/[:;]/)[0]))
    }
  })

  test('a table for a spreadsheet: no cell more', () => {
    const tables = seen.filter(({ answers: [answer] }) => String(answer.headers['content-type']).startsWith('text/csv'))
    expect(tables.length).toBeGreaterThan(0)
    // RFC 4180, 2.5 to 2.7.
    const cells = (body: string) => [...body.matchAll(/(?:^|,|\r\n)(?:"(?:[^"]|"")*"|[^",\r\n]*)/g)].length
    for (const { odd, answers } of tables) expect(cells(answers[0].body), odd).toBe(cells(answers[1].body))
  })

  test('as that person it stands on top of every page', async () => {
    for (const [n, text] of HOSTILE.entries()) {
      const answers = [await asNamed(hostile, n)('/archive'), await asNamed(plain, n)('/archive')] as const
      expect(faultsOf({ odd: text, usual: text, answers })).toEqual([])
      expect(saidOn(answers[0].body)).toContain(text)
    }
  })

  test('looked for and not found', async () => {
    const V = hostile.starts.find((one) => one.startsWith('/vehicles/')) ?? ''
    const W = plain.starts.find((one) => one.startsWith('/vehicles/')) ?? ''
    const where = [
      '/search?q=',
      '/shelf?contains=',
      '/?find=',
      'V/components?contains=',
      'V/journal?contains=',
      'V/entries/part-choices?verb=fitted&q=',
    ]
    for (const [n, text] of HOSTILE.entries())
      for (const at of where) {
        const asked = (words: string) => `${encodeURIComponent(words)}${encodeURIComponent(' xqz')}`
        const [odd, usual] = [at.replace('V', V) + asked(text), at.replace('V', W) + asked(harmless(text, n))]
        const answers = [await hostile.book.get(odd), await plain.book.get(usual)] as const
        expect(faultsOf({ odd, usual, answers })).toEqual([])
      }
  })

  test('typed in every text field of every form: what comes back, refused or saved, is the same as with harmless letters', async () => {
    expect(forms.size).toBeGreaterThan(40)
    const faults: string[] = []
    const statuses: number[] = []
    let n = 0
    for (const [name, [odd, usual]] of forms)
      for (let times = 0; times < 2; times++) {
        const at = n++ % HOSTILE.length
        const words = [HOSTILE[at] as string, harmless(HOSTILE[at] as string, at)] as const
        const answers = [await typed(hostile, odd, words[0]), await typed(plain, usual, words[1])] as const
        for (const [step, answer] of answers[0].entries()) {
          statuses.push(answer.statusCode)
          faults.push(...faultsOf({ odd: `${name}, ${words[0]}`, usual: name, answers: [answer, answers[1][step] as Answer] }))
        }
      }
    expect(faults).toEqual([])
    for (const status of [200, 303, 422]) expect(statuses.filter((one) => one === status).length, `${status}`).toBeGreaterThan(10)
  })
})

test.each(['a\ud800b', 'a\udc00b', '\udc00\ud800'])('B22: half a character, %j, is refused in words and nothing is kept', async (text) => {
  const rows = () => hostile.book.db.$client.prepare('SELECT (SELECT count(*) FROM entries) + (SELECT count(*) FROM parts)').pluck().get()
  const before = rows()
  const V = hostile.starts.find((one) => one.startsWith('/vehicles/'))
  for (const [url, body] of [
    ['/api/vehicles', { name: text, systemVoltage_V: 12 }],
    ['/api/parts', { kind: 'fuse', name: 'Fuse', ratings: {}, notes: text }],
    [`/api${V}/entries`, { effectiveOn: '2026-11-20', title: text, changes: [] }],
    [`/api${V}/entries`, { effectiveOn: '2026-11-20', title: 'Seen', changes: [{ kind: 'noted', text }] }],
  ] as const) {
    const reply = await hostile.program('POST', url, body)
    expect(reply.statusCode, url).toBe(422)
    expect(reply.body, url).toContain('cannot be kept')
  }
  expect(rows()).toBe(before)
})

describe('B23: a note that looks like Markdown', () => {
  const inNote = async (text: string) => {
    const V = hostile.starts.find((one) => one.startsWith('/vehicles/')) ?? ''
    // A reading with words to it, since those may be longest there.
    const fields = { verb: 'measured', component: 'f1', value: '12', on: '2026-11-23', title: 'Seen', text, do: 'save' }
    return hostile.book.post(`${V}/entries`, fields)
  }

  test.each([
    '![a](http://odd.example/a.png)',
    '[a](javascript:alert(1)) [b](data:text/html,x) <http://odd.example> http://odd.example/a',
    '# a\n\n> b\n\n* c\n\n```\nd\n```\n\n| e |\n| - |\n',
  ])('%j is text: no picture, no link and no heading come of it', async (text) => {
    const saved = await inNote(text)
    expect(saved.statusCode).toBe(303)
    const [odd, usual] = [await hostile.book.get(String(saved.headers.location)), await inNote(harmless(text, 0))]
    const beside = await hostile.book.get(String(usual.headers.location))
    expect(structureOf(odd.body)).toEqual(structureOf(beside.body))
    expect(saidOn(odd.body)).toContain(text.trim().replaceAll('\n', odd.body.includes('\r\n') ? '\r\n' : '\n'))
    expect(addressesOn(odd.body).join()).not.toMatch(/odd\.example|javascript:|data:text/)
  })

  test('one too long to be kept is refused in words', async () => {
    const V = hostile.starts.find((one) => one.startsWith('/vehicles/')) ?? ''
    const fields = { verb: 'noted', component: 'f1', on: '2026-11-23', title: 'Seen', text: '>'.repeat(5001), do: 'save' }
    const refused = await hostile.book.post(`${V}/entries`, fields)
    expect(refused.statusCode).toBe(422)
    expect(saidOn(refused.body).join('\n')).toContain('Keep this to 5000 letters at most.')
  })

  // The longest that is saved, and as much as design asks to be tried, which is refused.
  test.each([
    [20_000, 303],
    [100_000, 422],
  ])('%i times ">" or "[" takes no longer than as many letters', async (times, status) => {
    const took_ms = async (letter: string): Promise<number> => {
      const begun = process.cpuUsage()
      const reply = await inNote(letter.repeat(times / letter.length + 1).slice(0, times))
      expect(reply.statusCode, letter).toBe(status)
      if (status === 303) expect((await hostile.book.get(String(reply.headers.location))).statusCode).toBe(200)
      const { user, system } = process.cpuUsage(begun)
      return (user + system) / 1000
    }
    const least_ms = async (letter: string) => Math.min(await took_ms(letter), await took_ms(letter), await took_ms(letter))
    await took_ms('a')
    for (const letter of ['>', '[', '[](', '> ', '\n> ', '`', '<', '&']) {
      const [odd, usual] = [await least_ms(letter), await least_ms('a')]
      // What has to be escaped is five times as long on the page; what goes by the square would take thousands of times as long.
      expect(odd / usual, `${letter}: ${odd} and ${usual} ms`).toBeLessThan(10)
    }
  })
})

/** The answer to a form, and where it leads; as if it had never been sent. */
async function typed({ book }: Worded, form: FormOf, words: string): Promise<readonly Answer[]> {
  const own = form.fields.filter(({ name }) => name !== '_token').map((one) => [one.name, one.isText ? words : one.value])
  book.db.$client.exec('BEGIN')
  try {
    const answer = await book.post(form.action, Object.fromEntries(own))
    return answer.statusCode === 303 ? [answer, await book.get(String(answer.headers.location))] : [answer]
  } finally {
    book.db.$client.exec('ROLLBACK')
  }
}
