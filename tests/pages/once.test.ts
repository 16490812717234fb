import { readFileSync } from 'node:fs'
import type { FastifyInstance } from 'fastify'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { registerPages } from '../../server/pages/index.ts'
import { newId } from '../../server/records/ids.ts'
import { photos } from '../../server/records/schema.ts'
import { rowCounts } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { tagsOf } from './markup.ts'

let book: Book
let V = ''

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

/** The hidden fields of the page's form that posts there: what a browser would send besides what is typed. */
async function opened(page: string, action: string): Promise<Record<string, string>> {
  const { body } = await book.get(page)
  // A page may ask for another day of itself by a form of the same address.
  const sends = body.indexOf(`method="post" action="${action}"`)
  const at = sends < 0 ? body.indexOf(`action="${action}"`) : sends
  if (at < 0) throw new Error(`${page} has no form for ${action}`)
  const form = body.slice(at).split('</form>')[0] ?? ''
  const hidden = tagsOf(form).filter((tag) => tag.name === 'input' && tag.attributes.get('type') === 'hidden')
  const plain = (text: string) => text.replaceAll('&quot;', '"').replaceAll('&amp;', '&')
  return Object.fromEntries(
    hidden
      .filter((tag) => tag.attributes.get('name') !== '_token')
      .map((tag) => [tag.attributes.get('name') ?? '', plain(tag.attributes.get('value') ?? '')]),
  )
}

/** Rows of every table that keeps records; what is only worked out from them is left out. */
function records(): Record<string, number> {
  const counts = rowCounts(book.db)
  return Object.fromEntries(
    Object.entries(counts).filter(([table]) => !table.startsWith('projection') && !table.startsWith('search_index')),
  )
}

function grownBy(before: Record<string, number>): Record<string, number> {
  return Object.fromEntries(
    Object.entries(records()).flatMap(([table, count]) => (count === before[table] ? [] : [[table, count - (before[table] ?? 0)]])),
  )
}

type Form = { readonly page: string; readonly action: string; readonly fields: Record<string, string> }
const DAY = { on: '2026-11-20', do: 'save' }

async function saved(fields: Record<string, string>): Promise<string> {
  return (await book.post(`${V}/entries`, { verb: 'noted', text: 'Looked at.', ...DAY, ...fields })).headers.location as string
}
async function corrected(): Promise<string> {
  const entry = await saved({ text: 'To correct.' })
  return (await book.post(`${entry}/corrections`, { title: 'Corrected', on: '2026-11-20', 'keep-0': 'yes' })).headers.location as string
}
async function partMade(n: number): Promise<string> {
  return (await book.post('/parts', { kind: 'fuse', name: `Counted fuse ${n}`, rated_A: '15', 'grade-rated_A': 'marked' })).headers
    .location as string
}

async function wireWith(n: number): Promise<string> {
  const made = await book.post('/parts', { kind: 'conductor', name: `Reel ${n}`, material: 'copper', 'grade-material': 'marked' })
  return made.headers.location as string
}

/**
 * A form of every address that records, filled in; `n` makes each time another one of it. The table of the record that it is one of, and by how
 * many rows it grows: one where it is not said.
 */
const forms: Readonly<
  Record<string, { readonly table: string; readonly by?: number; readonly form: (n: number) => Form | Promise<Form> }>
> = {
  '/vehicles': {
    table: 'vehicles',
    form: (n) => ({ page: '/vehicles/new', action: '/vehicles', fields: { name: `Fern ${n}`, systemVoltage_V: '12' } }),
  },
  '/vehicles/import': {
    table: 'vehicles',
    form: (n) => ({
      page: '/vehicles/import',
      action: '/vehicles/import',
      fields: {
        document: readFileSync(`${import.meta.dirname}/../networks/small.json`, 'utf8').replace(
          /"name": ?"[^"]+"/,
          `"name":"Taken in ${n}"`,
        ),
      },
    }),
  },
  '/parts': {
    table: 'parts',
    form: (n) => ({
      page: '/shelf/new?kind=fuse',
      action: '/parts',
      fields: { name: `Fuse ${n}`, rated_A: '15', 'grade-rated_A': 'marked' },
    }),
  },
  '/vehicles/:id/copies': {
    table: 'vehicles',
    form: (n) => ({ page: `${V}/copies/new`, action: `${V}/copies`, fields: { name: `Bramble ${n}` } }),
  },
  '/parts/:id/counts': {
    table: 'stock_counts',
    form: async (n) => {
      const part = await partMade(n)
      return { page: part, action: `${part}/counts`, fields: { count: '4', place: 'Drawer' } }
    },
  },
  '/parts/:id/revisions': {
    table: 'part_revisions',
    form: async (n) => {
      const part = await partMade(n)
      return { page: part, action: `${part}/revisions`, fields: { name: 'Measured fuse', rated_A: '20', 'grade-rated_A': 'measured' } }
    },
  },
  '/parts/:id/purchases': {
    table: 'purchases',
    form: async (n) => {
      const part = await partMade(10 + n)
      return { page: part, action: `${part}/purchases`, fields: { bought: '2026-11-20', pieces: '10', paid: '4.99' } }
    },
  },
  '/parts/:id/purchase-removals': {
    table: 'purchases',
    by: -1,
    form: async (n) => {
      const part = await partMade(20 + n)
      for (const pieces of ['3', '4']) await book.post(`${part}/purchases`, { bought: '2026-11-20', pieces })
      return { page: part, action: `${part}/purchase-removals`, fields: {} }
    },
  },
  '/parts/:id/leftovers': {
    table: 'leftovers',
    form: async (n) => {
      const part = await wireWith(n)
      return { page: part, action: `${part}/leftovers`, fields: { length: '4.2', kept: 'Hook 3' } }
    },
  },
  '/parts/:id/leftover-cuts': {
    // No row comes or goes with a cut: what is answered is kept, and what is left is looked at below.
    table: 'idempotency_keys',
    form: async (n) => {
      const part = await wireWith(10 + n)
      await book.post(`${part}/leftovers`, { length: '4.2', kept: 'Hook 3' })
      const piece = /name="piece" value="([^"]+)"/.exec((await book.get(part)).body)?.[1] as string
      return { page: part, action: `${part}/leftover-cuts`, fields: n === 1 ? { used: 'yes' } : { [`now-${piece}`]: '3' } }
    },
  },
  '/vehicles/:id/entries': {
    table: 'entries',
    form: (n) => ({
      page: `${V}/entries/new`,
      action: `${V}/entries`,
      // What is removed is not there any more when the same form comes again.
      fields: { verb: 'removed', component: n === 1 ? 'cab-lamp' : 'fridge', fate: 'bin', ...DAY },
    }),
  },
  '/vehicles/:id/identity': {
    table: 'entries',
    form: (n) => ({ page: `${V}/identity`, action: `${V}/identity`, fields: { make: `Invented ${n}`, vin: `VIN0000000000000${n}` } }),
  },
  '/vehicles/:id/chains': {
    table: 'entries',
    form: (n) => ({
      page: `${V}/components/block/chain`,
      action: `${V}/chains`,
      fields: {
        ...{ from: 'block:20', rows: '2', 'type-0': 'conductor', 'size-0': '2.5', 'length-0': '1', 'type-1': 'load' },
        ...{ 'name-1': `Lamp ${n}`, 'figure-1': '2', return: 'ground-bay:20', 'return-size': '2.5', 'return-length': '1', ...DAY },
      },
    }),
  },
  '/vehicles/:id/components/:key/inserts': {
    table: 'entries',
    form: (n) => {
      const wire = n === 1 ? 'main-lead' : 'charge-lead'
      const path = `${V}/components/${wire}`
      return {
        page: `${path}/insert`,
        action: `${path}/inserts`,
        fields: { conductor: wire, near: '0.1', type: 'fuse', name: `Fuse Q${n}`, figure: '80', ...DAY },
      }
    },
  },
  '/vehicles/:id/components/:key/marks': {
    table: 'entries',
    form: (n) => {
      const path = `${V}/components/main-lead/marks`
      return { page: path, action: path, fields: { colour: 'RD', number: `N${n}`, ...DAY } }
    },
  },
  '/vehicles/:id/fuse-box': {
    table: 'entries',
    form: (n) => ({
      page: `${V}/fuse-box`,
      action: `${V}/fuse-box`,
      fields: { box: 'block', count: '1', 'position-0': `X${n}`, 'rating-0': '10', 'says-0': 'radio', ...DAY },
    }),
  },
  '/vehicles/:id/unfinished': {
    table: 'entries',
    form: (n) => ({ page: `${V}/components/block`, action: `${V}/unfinished`, fields: { text: `Moved ${n}` } }),
  },
  '/vehicles/:id/finished': {
    table: 'entries',
    form: async () => {
      await book.post(`${V}/unfinished`, { components: 'r7', text: 'Lead moved' })
      const page = [...(await book.get(V)).body.matchAll(/href="(\/vehicles\/[^"]+\/unfinished\/[^"]+-r7)"/g)].at(-1)?.[1] as string
      return { page, action: `${V}/finished`, fields: { on: '2026-11-25', text: 'In.' } }
    },
  },
  '/vehicles/:id/due-items': {
    table: 'entries',
    form: (n) => ({
      page: `${V}/due-items/new`,
      action: `${V}/due-items`,
      fields: { what: `Look at the strap ${n}`, on: '2027-01-05', component: 'r2' },
    }),
  },
  '/vehicles/:id/due-drops': {
    table: 'entries',
    form: async (n) => {
      await book.post(`${V}/due-items`, { what: 'A look', on: '2027-02-05', key: `look-${n}` })
      return { page: `${V}/due/look-${n}`, action: `${V}/due-drops`, fields: {} }
    },
  },
  '/vehicles/:id/due-done': {
    table: 'entries',
    form: async (n) => {
      await saved({ component: 'r2', again: `2027-0${n}-05` })
      return { page: `${V}/due/again-2027-0${n}-05-r2`, action: `${V}/due-done`, fields: { on: '2026-11-25', text: 'Fine.' } }
    },
  },
  '/vehicles/:id/decisions': {
    table: 'entries',
    form: (n) => ({
      page: `/decisions/new?vehicle=${book.vehicles[0]}`,
      action: `${V}/decisions`,
      fields: { why: `Because ${n}.`, component: 'r7', on: '2026-11-20' },
    }),
  },
  '/parts/:id/inspections': {
    table: 'entries',
    form: async (n) => {
      const lamp = /href="(\/parts\/[0-9a-f-]{36})">Work lamp</.exec((await book.get('/shelf?contains=Work lamp')).body)?.[1]
      const page = `${lamp}/inspections/new`
      const place = /name="(look-[^"]+)"/.exec((await book.get(page)).body)?.[1] ?? ''
      return { page, action: `${lamp}/inspections`, fields: { [place]: 'yes', by: `2027-01-0${n}`, what: 'Look at the lamp' } }
    },
  },
  '/vehicles/:id/departures': {
    table: 'entries',
    form: async (n) => {
      const vehicle = `/vehicles/${book.vehicles[n]}`
      return { page: `${vehicle}/leave`, action: `${vehicle}/departures`, fields: { how: 'sold', on: '2026-11-25', to: 'Robin' } }
    },
  },
  '/entries/:id/corrections': {
    table: 'entries',
    form: async () => {
      const entry = await saved({ text: 'First words.' })
      return {
        page: `${entry}/correction`,
        action: `${entry}/corrections`,
        fields: { title: 'Second words', on: '2026-11-19', 'keep-0': 'yes' },
      }
    },
  },
  '/entries/:id/earlier-versions': {
    table: 'entries',
    form: async () => {
      const entry = await corrected()
      return { page: entry, action: `${entry}/earlier-versions`, fields: {} }
    },
  },
  '/entries/:id/withdrawals': {
    table: 'entries',
    form: async () => {
      const entry = await saved({ text: 'To withdraw.' })
      return { page: entry, action: `${entry}/withdrawals`, fields: {} }
    },
  },
  '/entries/:id/restorations': {
    table: 'entries',
    form: async () => {
      const entry = await saved({ text: 'To bring back.' })
      await book.post(`${entry}/withdrawals`, {})
      return { page: entry, action: `${entry}/restorations`, fields: {} }
    },
  },
}
/** What records nothing: tries, the two doors, and what only sets a mark that is set already. */
const OTHERS = [
  '/sessions',
  '/sessions/end',
  '/sessions/second-factor',
  '/first-run',
  '/demonstration',
  '/trash/photos/:id/restorations',
  // Files are the same by what they hold: photos.test.ts.
  '/vehicles/:id/photos',
  '/entries/:id/photos',
  '/parts/:id/photos',
  // What is here already is left as it is: archive.test.ts.
  '/archive/imports',
  // Said twice they say the same, or are gone the second time.
  '/photos/:id/captions',
  '/photos/:id/trash',
  '/photos/:id/restorations',
  '/photos/:id/marks',
  '/photos/:id/marks/:mark/removals',
  // Each invitation is one of its own; the rest say the same twice.
  '/people/invitations',
  '/people/invitations/:id/revocations',
  '/people/:id/roles',
  '/people/:id/access',
  '/people/:id/emails',
  '/join/:token',
  '/account/passwords',
  // A passkey answers a challenge that works once; a link for a new password too. The rest say the same twice.
  '/account/identities/:id/removals',
  '/account/passkeys',
  '/account/passkeys/:id/names',
  '/account/passkeys/:id/removals',
  '/new-password/:token',
  '/sessions/passkey',
  '/sessions/second-factor/passkey',
  '/account/second-factor',
  '/account/second-factor/removals',
  '/account/sessions/:id/ends',
  '/account/sessions/ends',
  '/confirm',
  '/currency',
  // Each feed is one of its own; taking one back twice says the same.
  '/feeds',
  '/feeds/revocations',
  // Each is one of its own, shown once: programs.test.ts, hand-over.test.ts. The rest say the same twice.
  '/vehicles/:id/hand-over',
  '/vehicles/:id/hand-over/:share/revocations',
  // Shows a code for a link that is kept nowhere.
  '/vehicles/:id/labels/build-page',
  '/tokens',
  '/tokens/:id/revocations',
  '/webhooks',
  '/webhooks/:id/revocations',
  '/webhooks/:id/tests',
  // A backup is one of its own each time; the rest only looks, or ends in a new start.
  '/settings/backups',
  '/settings/checks',
  '/settings/photos',
  '/first-run/restorations',
  '/settings/backups/:name/trials',
  '/settings/backups/:name/restorations',
]

test('R17: every address that records is sent twice here', () => {
  const found: string[] = []
  registerPages({ get: () => {}, post: (path: string) => found.push(path), config: {}, backups: '' } as unknown as FastifyInstance)
  const recording = found.filter((path) => !path.endsWith('-previews') && !OTHERS.includes(path))
  expect(recording.sort()).toEqual(Object.keys(forms).sort())
})

describe.each(Object.keys(forms))('R17: %s', (pattern) => {
  const { table, by = 1, form } = forms[pattern] as (typeof forms)[string]

  test('sent five times one after another: one record, the same answer', async () => {
    const { page, action, fields } = await form(1)
    const sent = { ...(await opened(page, action)), ...fields }
    const before = records()
    const first = await book.post(action, sent)
    expect(first.statusCode, first.body.slice(0, 300)).toBe(303)
    const once = grownBy(before)
    expect(once[table]).toBe(by)
    for (let n = 0; n < 4; n++) {
      const again = await book.post(action, sent)
      expect([again.statusCode, again.headers.location]).toEqual([303, first.headers.location])
    }
    expect(grownBy(before)).toEqual(once)
  })

  test('sent five times at once: one record, the same answer', async () => {
    const { page, action, fields } = await form(2)
    const sent = { ...(await opened(page, action)), ...fields }
    const before = records()
    const replies = await Promise.all(Array.from({ length: 5 }, () => book.post(action, sent)))
    expect(new Set(replies.map((reply) => `${reply.statusCode} ${reply.headers.location}`)).size).toBe(1)
    expect(replies[0]?.statusCode).toBe(303)
    expect(grownBy(before)[table]).toBe(by)
  })
})

test('R17: the demonstration vehicles come once', async () => {
  const empty = await openBook({ demo: false })
  const replies = await Promise.all(Array.from({ length: 5 }, () => empty.post('/demonstration', {})))
  expect(replies.map((reply) => [reply.statusCode, reply.headers.location])).toEqual(Array.from({ length: 5 }, () => [303, '/']))
  await empty.post('/demonstration', {})
  expect(rowCounts(empty.db).vehicles).toBe(3)
  await empty.close()
})

test('R17: the page gone back to, changed and sent again is a new record, and none is lost', async () => {
  const log = await opened(`${V}/entries/new`, `${V}/entries`)
  const [one, two] = [
    await book.post(`${V}/entries`, { ...log, verb: 'noted', text: 'The first job.', ...DAY }),
    await book.post(`${V}/entries`, { ...log, verb: 'noted', text: 'The second job.', ...DAY }),
  ]
  expect(one.headers.location).not.toBe(two.headers.location)
  expect((await book.get(two.headers.location as string)).body).toContain('The second job.')
  const vehicle = await opened('/vehicles/new', '/vehicles')
  const names = await Promise.all(['Ash', 'Elm'].map((name) => book.post('/vehicles', { ...vehicle, name, systemVoltage_V: '12' })))
  expect(new Set(names.map((reply) => reply.headers.location)).size).toBe(2)
})

test('R17: a purchase or a cut sent again later changes nothing that was done since', async () => {
  const wire = await wireWith(30)
  const kept = async () => {
    const { body } = await book.get(wire)
    return { left: /Left over <small>([^<]+) in all/.exec(body)?.[1], purchases: body.split('name="purchase"').length - 1 }
  }
  const buy = { ...(await opened(wire, `${wire}/purchases`)), bought: '2026-11-20', pieces: '2' }
  await book.post(`${wire}/purchases`, buy)
  await book.post(`${wire}/purchase-removals`, await opened(wire, `${wire}/purchase-removals`))
  expect((await book.post(`${wire}/purchases`, buy)).statusCode).toBe(303)
  expect((await kept()).purchases).toBe(0)
  // Gone back to, changed and sent again: another purchase.
  await book.post(`${wire}/purchases`, { ...buy, pieces: '3' })
  expect((await kept()).purchases).toBe(1)

  await book.post(`${wire}/leftovers`, { length: '4.2', kept: 'Hook' })
  const cut = async (length: string) => {
    const sent = await opened(wire, `${wire}/leftover-cuts`)
    return { ...sent, [`now-${sent.piece}`]: length }
  }
  const first = await cut('3')
  await book.post(`${wire}/leftover-cuts`, first)
  await book.post(`${wire}/leftover-cuts`, await cut('2'))
  expect((await book.post(`${wire}/leftover-cuts`, first)).statusCode).toBe(303)
  expect((await kept()).left).toBe('2 m')
  const used = { ...(await cut('')), used: 'yes' }
  for (let n = 0; n < 2; n++) expect((await book.post(`${wire}/leftover-cuts`, used)).statusCode).toBe(303)
  expect((await kept()).left).toBe('0 m')
  // The same key under another part's address is another form.
  const other = await wireWith(31)
  expect((await book.post(`${other}/purchases`, buy)).statusCode).toBe(303)
  expect((await book.get(other)).body).toContain('name="purchase"')
})

test('R17: a copy, a look or a day of it changed and sent again is another, not lost', async () => {
  const copy = await opened(`${V}/copies/new`, `${V}/copies`)
  const made = await Promise.all(['Ash copy', 'Elm copy'].map((name) => book.post(`${V}/copies`, { ...copy, name })))
  expect(new Set(made.map((reply) => reply.headers.location)).size).toBe(2)
  const look = await opened(`${V}/due-items/new`, `${V}/due-items`)
  for (const what of ['The first look', 'The second look']) await book.post(`${V}/due-items`, { ...look, what, on: '2027-03-01' })
  const due = (await book.get(`${V}/due`)).body
  expect(due).toContain('The first look')
  expect(due).toContain('The second look')
})

test('B4: an id that a form proposes is never taken as it comes', async () => {
  const theirs = '0190a000-0000-7000-8000-000000000001'
  const made = await book.post('/vehicles', { once: theirs, id: theirs, household_id: theirs, name: 'Oak', systemVoltage_V: '12' })
  expect(made.statusCode).toBe(303)
  expect(made.headers.location).not.toContain(theirs)
  // Of no time, or of one far ahead: it is given an id like any other.
  for (const once of ['x', 'ffffffff-ffff-7fff-8fff-ffffffffffff']) {
    const other = await book.post('/vehicles', { once, name: `Oak ${once[0]}`, systemVoltage_V: '12' })
    expect(other.headers.location).toMatch(/^\/vehicles\/0[0-9a-f]{7}-/)
  }
})

test('a photo is restored from the trash once and for all', async () => {
  const id = newId(book.clock)
  book.db
    .insert(photos)
    .values({
      ...{ id, householdId: book.actor.householdId, vehicleId: null, sha256: 'b'.repeat(64), type: 'image/jpeg', bytes: 1, caption: '' },
      ...{
        fileName: 'old-relay.jpg',
        trashedAt: '2026-11-20T10:00:00.000Z',
        recordedAt: '2026-11-01T00:00:00.000Z',
        recordedBy: book.actor.personId,
      },
    })
    .run()
  const page = (await book.get('/trash')).body
  expect(page).toContain('old-relay.jpg')
  expect(page).toContain('25 days left')
  for (let n = 0; n < 5; n++) expect((await book.post(`/trash/photos/${id}/restorations`, {})).headers.location).toBe('/trash')
  expect((await book.get('/trash')).body).not.toContain('old-relay.jpg')
  expect((await book.post(`/trash/photos/${newId(book.clock)}/restorations`, {})).statusCode).toBe(404)
})
