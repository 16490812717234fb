import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { partKind } from '../../server/engine/parts/index.ts'
import { rules } from '../../server/engine/rules/index.ts'
import type { Ratings, VehicleDocument } from '../../server/engine/vehicle.ts'
import { type Given, vehicle } from '../engine/vehicle-builder.ts'
import { type Book, openBook } from './book.ts'
import { tagsOf, textOf } from './markup.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const ENTITIES: Readonly<Record<string, string>> = { '&amp;': '&', '&lt;': '<', '&gt;': '>', '&quot;': '"', '&#39;': '’' }
const plain = (text: string) => text.replaceAll(/&(?:amp|lt|gt|quot|#39);/g, (one) => ENTITIES[one] ?? one).replaceAll("'", '’')
const wordsOf = (html: string) => plain(textOf(html.slice(html.indexOf('<main'))))
const squeezed = (text: string) => plain(text.replaceAll(/\s+/g, ' ').trim())

describe('the rules', () => {
  test('all of them stand on one page, in their order, each with its reason and a way to its own page', async () => {
    const { body } = await book.get('/rules')
    const list = body.slice(body.indexOf('<ul class="plain">'), body.indexOf('</ul>'))
    expect([...list.matchAll(/href="\/rules\/([^"]+)"/g)].map((one) => one[1])).toEqual(rules.map((rule) => rule.id))
    for (const rule of rules) expect(wordsOf(body)).toContain(squeezed(rule.why))
  })

  test.each(rules.map((rule) => [rule.id, rule] as const))('%s says all it knows', async (id, rule) => {
    const reply = await book.get(`/rules/${id}`)
    expect(reply.statusCode).toBe(200)
    const words = wordsOf(reply.body)
    for (const text of [rule.title, rule.why, rule.formula, rule.limits, rule.remedy]) expect(words).toContain(squeezed(text))
    for (const kind of rule.appliesTo) expect(words).toContain(partKind(kind)?.title ?? 'a kind that is none')
    for (const source of rule.sources) {
      expect(words).toContain(squeezed(source.title))
      expect(words).toContain(squeezed(source.place))
    }
    const open = rule.sources.filter((source) => source.grade === 'memory' || source.grade === 'common practice').length
    expect(words.split('not confirmed against the standard').length - 1).toBe(open)
    expect(words).toContain(
      rule.appliesTo.length === 0 ? 'Judged after the others' : rule.judgedIn === 'condition' ? 'Judged in each condition' : 'Judged once',
    )
    expect(reply.body).toContain('href="/rules"')
  })

  test('what they need is named as its form names it', async () => {
    const words = wordsOf((await book.get('/rules/contact-load')).body)
    expect(words).toContain('Carry current, make contact (30–87) make_A')
  })

  test('a rule that is none', async () => {
    expect((await book.get('/rules/no-such-rule')).statusCode).toBe(404)
  })
})

describe('every finding names its rule and leads to its own page', () => {
  test('on the first page, a vehicle, a day of it, its findings, a branch and an entry', async () => {
    const V = `/vehicles/${book.vehicles[0]}`
    const entry = /href="(\/entries\/[^"]+)">Light bar on the roof/.exec((await book.get(`${V}/journal`)).body)?.[1] as string
    for (const address of ['/', V, `${V}?on=2023-05-10`, `${V}/findings?verdict=all`, `${V}/components/r7`, entry]) {
      const { body } = await book.get(address)
      const findings = body.split('<li class="finding">').slice(1)
      expect(findings.length, address).toBeGreaterThan(0)
      for (const finding of findings.map((one) => one.slice(0, one.indexOf('</li>')))) {
        const links = tagsOf(finding).flatMap((tag) => (tag.name === 'a' ? [tag.attributes.get('href') as string] : []))
        expect(links.filter((link) => /^\/rules\/[a-z-]+$/.test(link)).length, address).toBe(1)
        const own = links.filter((link) => /^\/vehicles\/[^/]+\/findings\/[a-z-]+\/[^/]+$/.test(link))
        expect(own.length, address).toBe(1)
        expect((await book.get(own[0] as string)).statusCode, own[0]).toBe(200)
      }
    }
  })

  test('what is only tried has no page yet, but its rule has', async () => {
    const V = `/vehicles/${book.vehicles[0]}`
    const part = /href="\/parts\/([^"]+)">20 A make relay/.exec((await book.get('/shelf?contains=relay')).body)?.[1] as string
    const swap = { verb: 'swapped', component: 'r3', part, on: '2026-11-20', do: 'try' }
    const { body } = await book.post(`${V}/entries`, swap)
    expect(body).toContain('href="/rules/contact-load"')
    expect(body).not.toContain('/findings/contact-load')
  })
})

/** Battery → F1 → W1 → R1 → Lamp → return wire, each with the figures given; the address of its vehicle. */
async function taken(given: Given): Promise<string> {
  const document: VehicleDocument = vehicle(given)
  const done = await book.post('/vehicles/import', { document: JSON.stringify(document) })
  expect(done.statusCode).toBe(303)
  return done.headers.location as string
}
const draws = (current_A: number, more: Ratings = {}): Ratings => ({ behaviour: 'current', current_A, rated_V: 12, ...more })

describe('a finding shows what it was worked out from', () => {
  test('a hot fuse: 40 A × 0.75 = 30 A; 26 A is 87 % of that, tight above 0.75 × 30 = 22.5 A', async () => {
    // Type E at 85 °C keeps 75 % of its rating (data sheets as transcribed, read): 26/30 = 0.8667.
    const V = await taken({ ambient_degC: 85, fuse: { rated_A: 40, rated_V: 32, form: 'E' }, load: draws(26) })
    const reply = await book.get(`${V}/findings/fuse-load/f1`)
    expect(reply.statusCode).toBe(200)
    const words = wordsOf(reply.body)
    expect(words).toContain('steady current ≤ rating × temperature factor')
    expect(words).toContain('Steady current 26 A Rating 40 A datasheet Ambient 85 °C measured Temperature factor 0.75')
    expect(words).toContain(
      'Value 26 A Limit: rating at that ambient 30 A Share of the limit used 87 % Tight above (75 %) 22.5 A Over above (100 %) 30 A',
    )
    // 50 A would carry it (26 of 37.5 A is 69 %), but its colder link passes more of a short that it cannot break as it is: 4800 of 1000 A.
    expect(words).toContain('No standard size of one part alone clears it without harm elsewhere.')
    expect(reply.body).toContain('href="/rules/fuse-load"')
    expect(reply.body).toContain(`href="${V}/components/f1"`)
    expect(reply.body).toContain(`href="${V}/findings"`)
    expect(reply.body).toContain('<svg class="scale tight"')
  })

  test('a drop: 10 A × (1 mΩ + 1 mΩ + 47.1 mΩ) out and 10 A × 47.1 mΩ back is 0.491 + 0.471 = 0.962 V of 10 % of 12 V', async () => {
    // Fuse and contact 1 mΩ each, 1 m of wire of a stated 47.1 mΩ/m each way, at 20 °C; 10 % class (ABYC E-11 as reprinted, read).
    const wire = { material: 'copper', crossSection_mm2: 4, resistance20_ohmPerM: 0.0471 }
    const V = await taken({ ambient_degC: 20, wire, load: draws(10) })
    const words = wordsOf((await book.get(`${V}/findings/voltage-drop/l1`)).body)
    expect(words).toContain(
      'Drop of the feed 0.491 V Drop of the return 0.471 V Share of the nominal voltage allowed 10 % Nominal voltage 12 V',
    )
    // 0.1 × 12 = 1.2 V; 0.962/1.2 = 0.8017; tight above 0.8 × 1.2 = 0.96 V.
    expect(words).toContain(
      'Value 0.962 V Limit: 10 % allowance 1.2 V Share of the limit used 80 % Tight above (80 %) 0.96 V Over above (100 %) 1.2 V',
    )
  })

  test('volts at a load: 12 − 10 × (3 mΩ + 2 × 48.5 mΩ) = 11 V; for a lowest of 10.5 V tight begins at 10.5/0.95', async () => {
    const wire = { material: 'copper', crossSection_mm2: 4, resistance20_ohmPerM: 0.0485 }
    const V = await taken({ ambient_degC: 20, wire, load: draws(10, { minimum_V: 10.5 }) })
    const words = wordsOf((await book.get(`${V}/findings/load-voltage/l1`)).body)
    // The return wire lifts the load's negative terminal by 10 × 48.5 mΩ = 0.485 V; the positive one is at 11 + 0.485 V.
    expect(words).toContain(
      'Volts at its positive terminal 11.485 V Volts at its negative terminal 0.485 V Lowest working voltage 10.5 V datasheet',
    )
    // 10.5/11 = 0.9545; 10.5/0.95 = 11.0526 V.
    expect(words).toContain(
      'Value 11 V Limit: lowest working voltage 10.5 V Share of the limit used 95 % Tight below (95 %) 11.053 V Over below (100 %) 10.5 V',
    )
  })

  test('an unknown one names what is missing, in the table and beside it', async () => {
    const V = await taken({ fuse: { rated_V: 32, form: 'C', resistance_ohm: 0.001 } })
    const words = wordsOf((await book.get(`${V}/findings/fuse-load/f1`)).body)
    expect(words).toContain('Not known rated current')
    expect(words).toContain('Steady current 10 A Rating not known')
    expect(words).toContain('Limit: rating not known Share of the limit used not known')
    expect(words).not.toContain('Tight above (')
  })

  test('each condition beside the worst, and the same on a day gone by', async () => {
    const V = `/vehicles/${book.vehicles[0]}`
    const words = wordsOf((await book.get(`${V}/findings/contact-load/r7?on=2023-05-10`)).body)
    expect(words).toContain('As it stood on 10 May 2023')
    // Two work lamps of 6 A and the light bar, 170 W at 13.8 V, hang on R7 that day: 12 + 12.3 A; none is on in the other two conditions.
    expect(words).toMatch(/everything on, engine running 24\.3 A 20 A lamps on, engine off 0 A 20 A cranking 0 A 20 A/)
    expect(wordsOf((await book.get(`${V}/findings/contact-load/r7`)).body)).not.toContain('As it stood')
  })

  test('a typical or assumed figure says so and is set in pencil', async () => {
    const { body } = await book.get(`/vehicles/${book.vehicles[0]}/findings/conductor-ampacity/engine-strap`)
    expect(body).toContain('<span class="pencilled">60 °C</span></td><td>typical</td>')
  })
})

test('an unknown rule, component, vehicle or day has no finding', async () => {
  const V = `/vehicles/${book.vehicles[0]}`
  for (const address of [
    `${V}/findings/no-such-rule/r7`,
    `${V}/findings/contact-load/ghost`,
    `${V}/findings/contact-load/block`,
    `${V}/findings/contact-load/r7?on=2000-01-01`,
    '/vehicles/nothing/findings/contact-load/r7',
  ])
    expect((await book.get(address)).statusCode, address).toBe(404)
})

test('what rests on another finding keeps that one’s condition; what is the wiring’s own is the same in all', async () => {
  const V = `/vehicles/${book.vehicles[0]}`
  const evidence = wordsOf((await book.get(`${V}/findings/rating-evidence/heater`)).body)
  expect(evidence).toContain('Worst with everything on, engine running Judged after the others, from what they found')
  expect(wordsOf((await book.get(`${V}/findings/rated-voltage/contactor`)).body)).toContain('Worst with the same in all Judged once')
})
