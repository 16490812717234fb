import sharp from 'sharp'
import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { append } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, textOf } from './markup.ts'

let book: Book
let V = ''
const PAST = '2023-05-10'

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

/** Every page of a vehicle that knows days; the relay was over on the day named PAST. */
const pages = [
  '',
  '/components',
  '/components/r7',
  '/findings',
  '/findings/contact-load/r7',
  '/journal',
  '/photos',
  '/components/r7/life',
  '/on-paper',
  '/identity',
]

describe.each(pages)('on a day: %s', (page) => {
  test('the page of a past day says so, leads back to today, and has the one control filled with that day', async () => {
    const reply = await book.get(`${V}${page}?on=${PAST}`)
    expect(reply.statusCode).toBe(200)
    expect(textOf(reply.body)).toContain(
      page === '/identity'
        ? 'As it stood on 10 May 2023 . Back to today'
        : 'As it stood on 10 May 2023 , judged by today’s figures. Back to today',
    )
    expect(reply.body).toContain(`<a href="${V}${page}">Back to today</a>`)
    expect(reply.body).toMatch(/<input id="on" name="on" type="date" value="2023-05-10">/)
  })

  test('links to other pages of the vehicle keep the day', async () => {
    const { body } = await book.get(`${V}${page}?on=${PAST}`)
    const lost = [...body.matchAll(/<a [^>]*href="([^"]+)"[^>]*>(.*?)<\/a>/gs)].filter(
      ([, href = '', words = '']) =>
        (href === V ||
          /^\/vehicles\/[^/]+\/(components|findings|journal|photos|due|on-paper|hand-over|archive|labels|handover-file)(\/[^/?]+){0,2}(\?|$)/.test(
            href,
          )) &&
        !href.includes(`on=${PAST}`) &&
        !/\/(chain|insert)$/.test(href) &&
        words !== 'Back to today',
    )
    expect(lost.map(([, href]) => href)).toEqual([])
  })

  test('today’s page has the control and no note', async () => {
    const { body } = await book.get(`${V}${page}`)
    expect(body).toContain('value="2026-11-25"')
    expect(body).not.toContain('As it stood on')
    expect((await book.get(`${V}${page}?on=2026-11-25`)).body).not.toContain('As it stood on')
    expect((await book.get(`${V}${page}?on=`)).statusCode).toBe(200)
  })

  test.each([
    ['2026-02-30', 'There is no 2026-02-30 in the calendar.'],
    ['2025-02-29', 'There is no 2025-02-29 in the calendar.'],
    ['0000-01-01', 'There is no 0000-01-01 in the calendar.'],
    ['10/05/2023', '“10/05/2023” is not a day as YYYY-MM-DD.'],
    ['2026-11-26', '2026-11-26 is still to come; today is 2026-11-25.'],
    ['9999-12-31', '9999-12-31 is still to come; today is 2026-11-25.'],
  ])('B27: the day %s is refused in words beside it, kept as typed, on today’s page', async (day, says) => {
    const reply = await book.get(`${V}${page}?on=${encodeURIComponent(day)}`)
    expect(reply.statusCode).toBe(422)
    expect(faultsOf(reply.body)).toEqual([])
    expect(textOf(insideOf(reply.body, 'on-fault'))).toContain(says)
    expect(reply.body).toMatch(new RegExp(`<input id="on" name="on" aria-invalid="true" aria-describedby="on-fault" value="${day}">`))
    expect(reply.body).not.toContain('As it stood on')
  })

  test('a day before the first recording says so', async () => {
    const reply = await book.get(`${V}${page}?on=1990-01-01`)
    // One component, or what is found of it, is not there at all then.
    expect(reply.statusCode).toBe(page.includes('r7') ? 404 : 200)
    expect(faultsOf(reply.body)).toEqual([])
    expect(reply.body).toContain('<input id="on" name="on" type="date" value="1990-01-01">')
    expect(textOf(reply.body)).toMatch(/Nothing was recorded before \d+ \w+ \d{4}\./)
  })
})

test('B25: a day said twice is refused, and what else is asked for is kept', async () => {
  const twice = await book.get(`${V}/journal?on=2023-05-10&on=2024-05-10`)
  expect(twice.statusCode).toBe(422)
  expect(textOf(insideOf(twice.body, 'on-fault'))).toContain('This came twice.')
  const { body } = await book.get(`${V}?on=${PAST}&condition=start`)
  const form = body.slice(body.indexOf('<details class="day"'), body.indexOf('</details>'))
  expect(form).toContain('<input type="hidden" name="condition" value="start">')
  expect(body).toContain(`<a href="${V}?condition=start">Back to today</a>`)
})

test('B27: a vehicle document of a day that is none is refused', async () => {
  const reply = await book.get(`${V}/document.json?on=2026-02-30`)
  expect(reply.statusCode).toBe(422)
  expect(textOf(reply.body)).toContain('There is no 2026-02-30 in the calendar.')
})

test('R7 is over on the day the light bar hung on it, and not today', async () => {
  expect(textOf((await book.get(`${V}/components/r7?on=${PAST}`)).body)).toMatch(/over Relay R7, work lamps 24\.\d of 20 A/)
  expect(textOf((await book.get(`${V}/components/r7`)).body)).not.toMatch(/over Relay R7, work lamps/)
})

test('the journal of a day holds what had happened by then', async () => {
  const dated = [...(await book.get(`${V}/journal?on=${PAST}`)).body.matchAll(/<h2>(\d{4})/g)].map((found) => Number(found[1]))
  expect(dated.length).toBeGreaterThan(0)
  expect(Math.max(...dated)).toBeLessThanOrEqual(2023)
  expect((await book.get(`${V}/journal`)).body).toContain('<h2>2026')
})

test('the life of a component on a day is what had happened by then; before it was fitted there is none yet', async () => {
  const { path } = await small()
  const then = textOf((await book.get(`${path}/components/r1/life?on=2024-03-15`)).body)
  expect(then).toContain('Fitted since 1 January 2024; never swapped.')
  expect(then).not.toContain('Strong relay')
  expect(textOf((await book.get(`${path}/components/r1/life`)).body)).toContain('swapped once')
  expect((await book.get(`${path}/components/l2/life?on=2024-01-15`)).statusCode).toBe(404)
  expect(textOf((await book.get(`${path}/components/l2/life?on=2024-02-15`)).body)).not.toContain('no longer')
})

test('photos of a day are those of entries up to it and those sent by then, whenever the entry was written', async () => {
  const { path, swap } = await small()
  const bytes = (colour: string) =>
    sharp({ create: { width: 30, height: 20, channels: 3, background: colour } })
      .jpeg()
      .toBuffer()
  await book.send(`/entries/${swap}/photos`, { files: [{ name: 'of-the-swap.jpg', bytes: await bytes('#123') }] })
  await book.send(`${path}/photos`, { files: [{ name: 'sent-today.jpg', bytes: await bytes('#456') }] })
  const on = async (day: string) => textOf((await book.get(`${path}/photos?on=${day}`)).body)
  expect(await on('2024-03-31')).toContain('No photo is of that day or before.')
  expect(await on('2024-04-01')).toContain('of-the-swap.jpg')
  expect(await on('2024-04-01')).not.toContain('sent-today.jpg')
  expect(await on('')).toMatch(/sent-today\.jpg.*of-the-swap\.jpg/)
})

test('what is due is always of today, says so where one comes from a past day, and leads back to that day', async () => {
  const past = await book.get(`${V}/due?on=${PAST}`)
  expect(textOf(past.body)).toContain(
    'This list is always of today. What was to look at on 10 May 2023 stands on the vehicle’s page of that day',
  )
  expect(past.body).toContain(`href="${V}?on=${PAST}"`)
  expect((await book.get(`${V}/due`)).body).not.toContain('always of today')
  expect((await book.get(`${V}/due?on=2026-02-30`)).statusCode).toBe(422)
})

test('what the vehicle is, as it was said by that day; a past day is not written over today’s', async () => {
  const { path } = await small()
  const id = path.slice('/vehicles/'.length)
  const said = (on: string, keptAt: string) =>
    append(book.db, book.clock, book.actor, {
      ...{ vehicleId: id, effectiveOn: on, title: 'Identity recorded' },
      changes: [{ kind: 'described', vehicle: { plate: 'LB 12', keptAt } }],
    })
  expect([said('2024-05-01', 'Yard').ok, said('2024-07-01', 'Barn').ok]).toEqual([true, true])
  const on = async (day: string) => (await book.get(`${path}/identity?on=${day}`)).body
  expect(textOf(await on('2024-06-01'))).toContain('Plate LB 12 Kept at Yard')
  expect(await on('2024-06-01')).not.toContain('name="keptAt"')
  expect(textOf(await on('2024-04-01'))).toContain('Plate not said Kept at not said')
  expect(await on('')).toMatch(/name="keptAt"[^>]*value="Barn"/)
})

test.each(['hand-over', 'archive'])(
  '%s is always of today, says so where one comes from a past day, and leads back to it',
  async (page) => {
    const past = await book.get(`${V}/${page}?on=${PAST}`)
    expect(past.statusCode).toBe(200)
    expect(faultsOf(past.body)).toEqual([])
    expect(textOf(past.body)).toContain(
      'This page is always of today. How the vehicle stood on 10 May 2023 is shown on its page of that day',
    )
    expect(past.body).toContain(`href="${V}?on=${PAST}"`)
    expect((await book.get(`${V}/${page}`)).body).not.toContain('always of today')
    const wrong = await book.get(`${V}/${page}?on=2026-02-30`)
    expect([
      wrong.statusCode,
      textOf(wrong.body).includes('There is no 2026-02-30 in the calendar. This page is always of today.'),
    ]).toEqual([422, true])
  },
)

/** A relay fitted, swapped and removed; a load that came and went in between. */
async function small() {
  const made = createVehicle(book.db, book.clock, book.actor, { name: 'Fern', systemVoltage_V: 12 })
  const part = (kind: string, name: string, ratings: Record<string, number | string>) => {
    const one = createPart(book.db, book.clock, book.actor, { kind, name, ratings })
    if (!one.ok) throw new Error('no part')
    return one.value.id
  }
  const [old, strong, lamp] = [
    part('relay', 'Weak relay', { make_A: 20 }),
    part('relay', 'Strong relay', { make_A: 40 }),
    part('load', 'Lamp', { behaviour: 'current', current_A: 4 }),
  ]
  if (!made.ok) throw new Error('no vehicle')
  const { id } = made.value
  const add = (effectiveOn: string, changes: Parameters<typeof append>[3]['changes']) => {
    const saved = append(book.db, book.clock, book.actor, { vehicleId: id, effectiveOn, title: `Work of ${effectiveOn}`, changes })
    if (!saved.ok) throw new Error(saved.refusals[0]?.sentence)
    return saved.value.id
  }
  const fitted = (key: string, name: string, one: string) => ({ kind: 'fitted', component: { key, name, part: one } }) as const
  add('2024-01-01', [fitted('r1', 'Horn relay', old), fitted('l1', 'Left lamp', lamp)])
  add('2024-02-01', [fitted('l2', 'Right lamp', lamp)])
  add('2024-03-01', [{ kind: 'removed', component: 'l2', fate: 'bin' }])
  const swap = add('2024-04-01', [
    { kind: 'swapped', component: 'r1', part: strong, fate: 'failed' },
    { kind: 'renamed', component: 'r1', name: 'Loud relay' },
  ])
  add('2024-05-01', [{ kind: 'removed', component: 'l1', fate: 'shelf' }])
  return { path: `/vehicles/${id}`, swap }
}

describe('two days compared', () => {
  test('what was swapped, renamed and removed, with counts first; a lamp that came and went is not there', async () => {
    const { path } = await small()
    const reply = await book.get(`${path}/compare?from=2024-01-01&to=2024-06-01`)
    const text = textOf(reply.body)
    expect(text).toContain('Between 1 January 2024 and 1 June 2024: 1 removed, 1 swapped, 1 renamed; findings:')
    expect(textOf(reply.body.slice(reply.body.indexOf('id="swapped"')))).toContain('Loud relay Weak relay → Strong relay')
    expect(text).toContain('was called Horn relay')
    expect(text).not.toContain('Right lamp')
    // Gone from the vehicle: its life, not its branch.
    expect(reply.body).toContain(`href="${path}/components/l1/life"`)
  })

  test('the days the other way round compare the same', async () => {
    const { path } = await small()
    const [one, two] = await Promise.all([
      book.get(`${path}/compare?from=2024-01-01&to=2024-06-01`),
      book.get(`${path}/compare?from=2024-06-01&to=2024-01-01`),
    ])
    const main = (body: string) => /<main[^>]*>([\s\S]*)<\/main>/.exec(body)?.[1]
    expect(main(one.body)?.length).toBeGreaterThan(500)
    expect(main(two.body)).toBe(main(one.body))
  })

  test('nothing changed is said', async () => {
    const { path } = await small()
    expect(textOf((await book.get(`${path}/compare?from=2024-01-02&to=2024-01-03`)).body)).toContain(
      'Nothing changed between 2 January 2024 and 3 January 2024.',
    )
  })

  test('the finding of the light bar is among those that appeared, with both figures', async () => {
    const { body } = await book.get(`${V}/compare?from=2023-01-01&to=${PAST}`)
    const appeared = textOf(body.slice(body.indexOf('id="findings-appeared"'), body.indexOf('id="findings-changed"')))
    expect(appeared).toMatch(/Relay R7, work lamps .*? (clear|tight) 12(\.\d)? of 20 A over 24\.\d of 20 A/)
    const back = (await book.get(`${V}/compare?from=${PAST}&to=2026-11-25`)).body
    expect(textOf(back.slice(back.indexOf('id="findings-cleared"')))).toMatch(/Relay R7, work lamps .*? over 24\.\d of 20 A clear/)
  })

  test('B27: a day that is none is refused at its field and kept', async () => {
    const reply = await book.get(`${V}/compare?from=2026-02-30&to=2027-01-01`)
    expect(reply.statusCode).toBe(422)
    expect(faultsOf(reply.body)).toEqual([])
    expect(insideOf(reply.body, 'from-fault')).toBe('There is no 2026-02-30 in the calendar.')
    expect(reply.body).toContain('value="2026-02-30"')
    expect(reply.body).toContain('value="2027-01-01"')
  })

  test('from before the first recording: all of it is new, and that is said', async () => {
    const { path } = await small()
    const text = textOf((await book.get(`${path}/compare?from=2020-01-01&to=2024-01-01`)).body)
    expect(text).toContain('2 fitted')
    expect(text).toContain('Nothing was recorded before 1 January 2024.')
  })

  test('B3: of another household’s vehicle there is nothing', async () => {
    expect((await book.get('/vehicles/00000000-0000-7000-8000-000000000000/compare')).statusCode).toBe(404)
  })
})

describe('a component’s life', () => {
  test('its page tells it, with former names and the fate of the old part, and is there though it is gone', async () => {
    const { path } = await small()
    const text = textOf((await book.get(`${path}/components/r1/life`)).body)
    expect(text).toContain('The life of Loud relay')
    expect(text).toContain('Fitted since 1 January 2024; swapped once.')
    expect(text).toContain('Formerly called Horn relay.')
    expect(text).toContain('Old part: Weak relay · New part: Strong relay · The old part: failed.')
    expect(text).toContain('recorded 25 November 2026, 12:00, Owner')
    const gone = textOf((await book.get(`${path}/components/l1/life`)).body)
    expect(gone).toContain('It is no longer in the vehicle.')
    const branch = await book.get(`${path}/components/l1`)
    expect(branch.statusCode).toBe(404)
    expect(textOf(branch.body)).toContain('Left lamp is not fitted today.')
    expect(branch.body).toContain(`href="${path}/components/l1/life"`)
  })

  test('what a load elsewhere did to it stands in its life', async () => {
    const text = textOf((await book.get(`${V}/components/r7/life`)).body)
    expect(text).toMatch(/over: [^.]*, 24\.\d of 20 A/)
    expect(text).toMatch(/cleared: [^.]*, was over 24\.\d of 20 A/)
  })

  test('the branch page names the latest of it and leads there', async () => {
    const { body } = await book.get(`${V}/components/r7`)
    expect(body).toContain(`href="${V}/components/r7/life"`)
    expect((await book.get(`${V}/components/ghost/life`)).statusCode).toBe(404)
    expect((await book.get(`${V}/components/ghost?on=${PAST}`)).statusCode).toBe(404)
  })
})
