import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { buildApp } from '../../server/app.ts'
import { append } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { type Book, openBook, TODAY } from './book.ts'
import { textOf } from './markup.ts'
import { readPdf } from './pdf-reader.ts'
import { modulesOf, readQr } from './qr-reader.ts'

let book: Book
beforeAll(async () => {
  book = await openBook()
})
afterAll(() => book.close())

const unescaped = (text: string) =>
  text.replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&amp;', '&')
const bare = (text: string) => text.replaceAll(/\s+/g, '')
const pdfAt = async (address: string) => {
  const reply = await book.get(address)
  expect(reply.statusCode, address).toBe(200)
  expect(reply.headers['content-type']).toBe('application/pdf')
  expect(reply.rawPayload.subarray(0, 5).toString()).toBe('%PDF-')
  return readPdf(reply.rawPayload)
}

describe('the handover file', () => {
  test.each([0, 1, 2])('of demonstration vehicle %i: the PDF says all that the page says, in its order', async (n) => {
    const address = `/vehicles/${book.vehicles[n]}/handover-file`
    const page = (await book.get(address)).body
    const pdf = await pdfAt(`${address}.pdf`)
    const text = bare(pdf.text)
    const cells = [...page.matchAll(/<t[hd] (?:scope="row"|data-label="[^"]*")>([^<]*)<\/t[hd]>/g)].map((found) =>
      unescaped(found[1] as string),
    )
    expect(cells.length).toBeGreaterThan(200)
    // A cell over several lines stands in pieces between its neighbours': each of its words is there.
    for (const word of new Set(cells.flatMap((cell) => cell.split(/\s+/)))) expect(text, word).toContain(bare(word))
    for (const heading of [...page.matchAll(/<h3>([^<]*)<\/h3>/g)].map((found) => unescaped(found[1] as string)))
      expect(text, heading).toContain(bare(heading))
    expect(pdf.outline).toEqual([...page.matchAll(/<h2 id="[^"]*">([^<]*)<\/h2>/g)].map((found) => found[1]))
    expect(pdf.text).not.toContain('\uFFFD')
  })

  test('tagged, in English, titled, its typeface embedded, each page numbered of all', async () => {
    const pdf = await pdfAt(`/vehicles/${book.vehicles[0]}/handover-file.pdf`)
    expect(pdf).toMatchObject({ title: 'Handover file of Bramble', language: 'en-GB', isMarked: true, loose: 0 })
    expect(pdf.pages.length).toBeGreaterThan(5)
    pdf.pages.forEach((page, n) => {
      expect(page.text).toContain(`page ${n + 1} of ${pdf.pages.length}`)
      // Sheets of the drawing are laid across; the drawing's words are those of its page, made to fit.
      const isDrawing = page.text.includes('Wiring drawing')
      expect([page.width_pt, page.height_pt]).toEqual(isDrawing ? [841.89, 595.28] : [595.28, 841.89])
      expect(Math.min(...page.sizes_pt)).toBeGreaterThanOrEqual(isDrawing ? 5 : 8)
    })
    expect(pdf.tags).toMatchObject({ Document: 1, H1: 1, H2: 13, Sect: 13 })
    expect(pdf.tags.TH).toBeGreaterThan(50)
    const letter = await pdfAt(`/vehicles/${book.vehicles[0]}/handover-file.pdf?paper=letter`)
    expect([letter.pages[0]?.width_pt, letter.pages[0]?.height_pt]).toEqual([612, 792])
  })

  test('holds every sheet of the wiring drawing: on its page as lines whose references lead within it, in the PDF every word drawn, and no picture of dots', async () => {
    for (const id of book.vehicles) {
      const address = `/vehicles/${id}/handover-file`
      const page = (await book.get(address)).body
      const own = (await book.get(`/vehicles/${id}/wiring-drawing`)).body
      const sheets = [...page.matchAll(/<svg class="drawing".*?<\/svg>/gs)].map((found) => found[0])
      expect(sheets.length).toBeGreaterThan(0)
      expect(sheets.length).toBe([...own.matchAll(/<svg class="drawing"/g)].length)
      const ids = [...page.matchAll(/ id="([^"]*)"/g)].map((found) => found[1])
      expect(new Set(ids).size).toBe(ids.length)
      for (const [, to = ''] of sheets.join('').matchAll(/href="([^"]*)"/g)) expect(ids).toContain(to.replace(/^#/, ''))
      const pdf = await pdfAt(`${address}.pdf`)
      const across = pdf.pages.filter((one) => one.width_pt > one.height_pt)
      expect(across.length).toBe(sheets.length)
      sheets.forEach((sheet, n) => {
        const drawn = bare(across[n]?.text ?? '')
        for (const [, words = ''] of sheet.matchAll(/<text [^>]*>([^<]*)<\/text>/g)) expect(drawn).toContain(bare(unescaped(words)))
      })
      expect(pdf.tags.Figure).toBe(sheets.length)
      expect([...pdf.objects.values()].some((one) => one.head.includes('/Subtype /Image'))).toBe(false)
    }
  })

  test('where a load of unknown current or a wire of unknown size shares the way, volts at a load are a bound and not a fact', async () => {
    // Wren's untraced box draws nobody knows what; nothing of Bramble's is unknown.
    expect((await book.get(`/vehicles/${book.vehicles[1]}/handover-file`)).body).toMatch(/<td[^>]*>at most [\d.]+ V/)
    expect((await book.get(`/vehicles/${book.vehicles[0]}/handover-file`)).body).not.toMatch(/<td[^>]*>at most [\d.]+ V/)
  })

  test('of another day, every way on from it is of that day too', async () => {
    const V = `/vehicles/${book.vehicles[0]}`
    for (const path of [
      `${V}/on-paper`,
      `${V}/handover-file`,
      `${V}/fuse-box/block/chart`,
      `${V}/fuse-box/block/chart?paper=exact`,
      `${V}/labels`,
    ]) {
      const { body } = await book.get(`${path}${path.includes('?') ? '&' : '?'}on=2024-05-10`)
      const main = body.slice(body.indexOf('<main'), body.indexOf('</main>'))
      const ways = [...main.matchAll(/(?:href|action)="([^"]*(?:handover-file|chart|labels)(?:\.pdf)?(?:\?[^"]*)?)"/g)].map(
        ([, to = '']) => to,
      )
      expect(ways.length, path).toBeGreaterThan(0)
      const forms = [...main.matchAll(/<form method="get" action="([^"]*)"[^>]*>(.*?)<\/form>/gs)]
      for (const [, action = '', inside = ''] of forms) expect(inside, action).toMatch(/name="on"( type="date")? value="2024-05-10"/)
      const actions = new Set(forms.map(([, action]) => action))
      for (const way of ways.filter((one) => !actions.has(one))) expect(way, path).toContain('on=2024-05-10')
    }
  })

  test('heads of a table stand again on each page that it goes on to, and no row is cut', async () => {
    const pdf = await pdfAt(`/vehicles/${book.vehicles[0]}/handover-file.pdf`)
    const withWires = pdf.pages.filter((page) => page.text.includes('XLPE, 105 °C'))
    expect(withWires.length).toBeGreaterThan(1)
    for (const page of withWires) expect(page.text).toContain('InsulationLengthFromTo')
  })

  test('what it holds of a known vehicle, told by eye from how it is wired', async () => {
    const page = (await book.get(`/vehicles/${book.vehicles[0]}/handover-file`)).body
    const row = (name: string, section: string) => {
      const part = page.slice(page.indexOf(`id="${section}"`), page.indexOf('</section>', page.indexOf(`id="${section}"`)))
      const found = new RegExp(`<tr><th scope="row">${name}</th>(.*?)</tr>`).exec(part)?.[1] ?? ''
      return [...found.matchAll(/<td[^>]*>([^<]*)<\/td>/g)].map((cell) => unescaped(cell[1] as string))
    }
    expect(row('F1', 'protection')).toEqual([
      '15 A',
      'blade, type C, light blue',
      'Dipped beam, left; Dipped beam, right',
      '2.5 mm²',
      'within 0.1 s',
      '1000 A',
      'none',
    ])
    expect(row('Relay R1, dipped beam', 'switching').at(-1)).toBe('Dipped beam, left; Dipped beam, right: cannot be switched off')
    // 12 V over 90 Ω: 0.133 A.
    expect(row('Relay R1, dipped beam', 'switching').join()).toContain('90 Ω, 0.13 A at 12 V')
    expect(row('Fuel pump', 'fuel').at(-1)).toBe('not known')
    expect(row('7 November 2021', 'tests').slice(0, 2)).toEqual(['Starter battery +', '12.58 V'])
    expect(textOf(page)).toContain('How many lie together in a bundle: not recorded for 83 of 83 wires')
    // What the heater's part does not say stands as assumed among what was not checked.
    expect(row('Diesel heater', 'not-checked')[0]).toContain('nature')
  })

  test('a figure that nobody read off a thing says so wherever it stands, and is told among what was not checked', async () => {
    const own = await openBook({ demo: false })
    const made = await own.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    const vehicleId = (made.headers.location as string).slice('/vehicles/'.length)
    const make = (kind: string, ratings: Record<string, unknown>, evidence: Record<string, string> = {}) => {
      const part = createPart(own.db, own.clock, own.actor, { kind, name: `A ${kind}`, ratings, evidence } as never)
      if (!part.ok) throw new Error(JSON.stringify(part.refusals))
      return part.value.id
    }
    const fitted = (key: string, part: string, more = {}) => ({ kind: 'fitted', component: { key, name: key, part, ...more } }) as const
    const joined = (from: string, to: string) => ({ kind: 'joined', from, to }) as const
    const marked = { current_A: 'marked', rated_V: 'marked', behaviour: 'marked' }
    const lamp = { behaviour: 'current', current_A: 5, rated_V: 12, inrush_A: 40, inrush_s: 0.1 }
    const saved = append(own.db, own.clock, own.actor, {
      vehicleId,
      effectiveOn: TODAY,
      title: 'Recorded as found',
      changes: [
        {
          kind: 'described',
          zone: { key: 'bay', name: 'Bay', ambient_degC: 80, peak_degC: 110, evidence: { peak_degC: 'typical' } },
        },
        fitted('battery', make('battery', { nominal_V: 12 }, { nominal_V: 'marked' })),
        fitted(
          'fuse',
          make('fuse', { rated_A: 10, form: 'C', breaking_A: 1000 }, { rated_A: 'marked', form: 'marked', breaking_A: 'typical' }),
        ),
        fitted('relay', make('relay', { make_A: 30 }, { make_A: 'marked' })),
        fitted('lamp', make('load', lamp, { ...marked, inrush_A: 'typical', inrush_s: 'typical' })),
        fitted('motor', make('load', lamp, { ...marked, inrush_A: 'measured', inrush_s: 'assumed' })),
        fitted(
          'wire',
          make('conductor', { crossSection_mm2: 2.5, material: 'copper' }, { crossSection_mm2: 'typical', material: 'marked' }),
          { length_m: 1.5, colour: 'RD', stripe: 'WH', number: '7' },
        ),
        joined('battery:+', 'fuse:in'),
        joined('fuse:out', 'wire:a'),
        joined('wire:b', 'relay:30'),
        joined('relay:87', 'lamp:+'),
        joined('relay:87', 'motor:+'),
      ],
    })
    expect(saved.ok ? '' : JSON.stringify(saved.refusals)).toBe('')
    const text = textOf((await own.get(`/vehicles/${vehicleId}/handover-file`)).body)
    // A usual coil of a 12 V relay has 75 Ω by the table of typical figures; 12 V over it are 0.16 A.
    expect(text).toContain('75 Ω (typical), 0.16 A at 12 V')
    expect(text).toContain('1000 A (typical)')
    expect(text).toContain('40 A for 0.1 s (typical)')
    expect(text).toContain('40 A for 0.1 s (assumed)')
    expect(text).toContain('7, RD/WH 2.5 mm² (typical)')
    expect(text).toContain('80 °C (assumed) 110 °C (typical)')
    expect(text).toContain('Bay, a zone ambient peak')
    expect(text).toContain('Length: recorded for 1 of 1 wires; whether it was measured or guessed is not recorded for any.')
    expect(text).toContain('Make, model, year not recorded Odometer')
    await own.close()
  })

  test('of two wires of one name the terminals are told wire by wire', async () => {
    const own = await openBook({ demo: false })
    const made = await own.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    const vehicleId = (made.headers.location as string).slice('/vehicles/'.length)
    const part = createPart(own.db, own.clock, own.actor, { kind: 'conductor', name: 'A wire', ratings: {} })
    if (!part.ok) throw new Error(JSON.stringify(part.refusals))
    const crimped = { terminal: 'ring, M8', tool: 'hand crimper' }
    const saved = append(own.db, own.clock, own.actor, {
      vehicleId,
      effectiveOn: TODAY,
      title: 'Recorded as found',
      changes: ['w1', 'w2'].map(
        (key) => ({ kind: 'fitted', component: { key, name: 'Feed', part: part.value.id, fittings: { a: crimped, b: crimped } } }) as const,
      ),
    })
    expect(saved.ok ? '' : JSON.stringify(saved.refusals)).toBe('')
    const text = textOf((await own.get(`/vehicles/${vehicleId}/handover-file`)).body)
    expect(text).toContain('ring, M8 hand crimper Feed a, b; Feed a, b')
    await own.close()
  })

  test('what is not known is said so, and nothing unknown reads as passed', async () => {
    const page = (await book.get(`/vehicles/${book.vehicles[1]}/handover-file`)).body
    const notChecked = page.slice(page.indexOf('id="not-checked"'))
    expect(notChecked).toContain('current of Rest of box 1')
    expect(textOf(page.slice(page.indexOf('id="open"'), page.indexOf('id="protection"')))).toContain('unknown')
  })

  test('an empty vehicle has its file too', async () => {
    const made = await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '48' })
    const address = `${made.headers.location}/handover-file`
    const page = await book.get(address)
    expect(page.statusCode).toBe(200)
    expect(page.body).toContain('No fuse or breaker is recorded.')
    expect(page.body).toContain('Arcs at 48 V')
    expect((await pdfAt(`${address}.pdf`)).text).toContain('No source is recorded.')
    expect((await book.get(`${made.headers.location}/on-paper`)).body).toContain('Walk the fuse box')
    expect((await book.get(`${made.headers.location}/labels`)).body).toContain('Nothing of that kind')
    expect((await book.get(`${made.headers.location}/fuse-box/-/chart`)).statusCode).toBe(404)
  })

  test('another household’s vehicle, a day to come: nothing is made', async () => {
    expect((await book.get('/vehicles/01a21293-b600-7076-b7a3-b1dcf702bc4a/handover-file.pdf')).statusCode).toBe(404)
    expect((await book.get(`/vehicles/${book.vehicles[0]}/handover-file.pdf?on=2999-01-01`)).statusCode).toBe(422)
    expect((await book.app.inject(`/vehicles/${book.vehicles[0]}/handover-file.pdf`)).statusCode).toBe(303)
  })
})

test('nothing private goes along unless it is ticked, in the page or in the PDF', async () => {
  const own = await openBook()
  const vehicleId = own.vehicles[2] as string
  const secret = {
    vin: 'ZZ9SENTINEL00007',
    plate: 'SEN 7INEL',
    prices: '9876.54',
    names: 'Sentinel Smith',
    addresses: '12 Quillmark Lane, Nethermere',
  }
  const entry = append(own.db, own.clock, own.actor, {
    vehicleId,
    effectiveOn: TODAY,
    title: `Papers in order, seen as ${secret.plate.toLowerCase()}`,
    text: `Stamped ${secret.vin} on the frame, with ${secret.names}, at ${secret.addresses}; paid €4321.`,
    cost_minor: 987654,
    changes: [
      {
        kind: 'described',
        vehicle: { vin: secret.vin, plate: secret.plate, keptAt: secret.addresses, year: '1987', notes: 'Sentinel of old' },
      },
      { kind: 'renamed', component: 'winch', name: `Winch motor in front of ${secret.plate}` },
      { kind: 'left', how: 'sold', to: secret.names },
    ],
  })
  expect(entry.ok).toBe(true)
  const address = `/vehicles/${vehicleId}/handover-file`
  const read = async (query: string) => {
    const page = await own.get(`${address}${query}`)
    const pdf = readPdf((await own.get(`${address}.pdf${query}`)).rawPayload)
    return [
      unescaped(textOf(page.body.slice(page.body.indexOf('id="identity"'), page.body.indexOf('<footer')))),
      pdf.text.replaceAll('\n', ' '),
    ]
  }
  const fields = Object.keys(secret) as (keyof typeof secret)[]
  for (const ticked of ['', ...fields]) {
    for (const text of await read(ticked === '' ? '' : `?${ticked}=yes`)) {
      for (const field of fields)
        expect(
          bare(text).toLowerCase().includes(bare(secret[field]).toLowerCase()),
          `${field} where ${ticked || 'nothing'} is ticked`,
        ).toBe(field === ticked)
      expect(text.includes('4321')).toBe(ticked === 'prices')
      expect(/by Owner\b/.test(text)).toBe(ticked === 'names')
      expect(text).not.toContain('Sentinel of old')
      expect(text).toContain('[left out]')
      expect(text).toContain('1987')
    }
  }
  await own.close()
})

test('any text is set or shown to be lacking, and never ends the file', async () => {
  const own = await openBook({ demo: false })
  const made = await own.post('/vehicles', { name: 'Zażółć Ж Ω 中 😀 ≤', systemVoltage_V: '12' })
  const vehicleId = (made.headers.location as string).slice('/vehicles/'.length)
  const part = createPart(own.db, own.clock, own.actor, { kind: 'fuse', name: '(\\) 15 A ﷽ العربية', ratings: { rated_A: 15, form: 'C' } })
  if (!part.ok) throw new Error('no part')
  const texts = [
    'a\u0007b\u200bc',
    'x'.repeat(9000),
    'one\ntwo\r\n\n\nthree',
    '\ud800 alone',
    'e\u0301',
    '<b>&amp;</b>',
    'שלום',
    '\u202etfel',
    '  ',
  ]
  for (const [n, text] of texts.entries()) {
    const saved = append(own.db, own.clock, own.actor, {
      vehicleId,
      effectiveOn: TODAY,
      title: `Text ${n}`,
      text,
      changes:
        n === 0
          ? [{ kind: 'fitted', component: { key: 'f1', name: 'N'.repeat(120), part: part.value.id } }]
          : [{ kind: 'noted', text: 'said' }],
    })
    expect(saved.ok).toBe(true)
  }
  const reply = await own.get(`/vehicles/${vehicleId}/handover-file.pdf`)
  expect(reply.statusCode).toBe(200)
  const pdf = readPdf(reply.rawPayload)
  expect(pdf.title).toBe('Handover file of Zażółć Ж Ω 中 😀 ≤')
  expect(pdf.text).toContain('Handover file of Zażółć Ж Ω \uFFFD \uFFFD \uFFFD')
  expect(pdf.text).toContain('stands for a character that the typeface of this file lacks')
  expect(pdf.text).toContain('a\uFFFDb')
  expect(pdf.text).toContain('<b>&amp;</b>')
  expect(pdf.text).toContain('(\\) 15 A')
  expect(
    bare(pdf.text)
      .match(/x{90,}/g)
      ?.join('').length,
  ).toBeGreaterThan(8900)
  expect(bare(pdf.text)).toContain('N'.repeat(10))
  const chart = await own.get(`/vehicles/${vehicleId}/fuse-box/-/chart.pdf`)
  expect(bare(readPdf(chart.rawPayload).text)).toContain('15A')
  await own.close()
})

describe('the fuse chart', () => {
  test.each([
    ['card', 90, 60],
    ['a5', 148, 210],
  ])('%s: every page is of exactly that size, and no type is smaller than 5 pt', async (size, width_mm, height_mm) => {
    for (const [vehicle, box] of [
      [0, 'block'],
      [0, 'house-block'],
      [0, '-'],
      [1, 'block'],
      [2, 'block'],
    ] as const) {
      const pdf = await pdfAt(`/vehicles/${book.vehicles[vehicle]}/fuse-box/${box}/chart.pdf?size=${size}`)
      expect(pdf.pages.length).toBeGreaterThan(0)
      for (const page of pdf.pages) {
        expect((page.width_pt / 72) * 25.4).toBeCloseTo(width_mm, 2)
        expect((page.height_pt / 72) * 25.4).toBeCloseTo(height_mm, 2)
        expect(Math.min(...page.sizes_pt)).toBeGreaterThanOrEqual(5)
      }
    }
  })

  test('heads and feet stand whole on every card, and nothing is set below its edge', async () => {
    for (const size of ['card', 'a5'])
      for (const [vehicle, box, name] of [
        [0, 'block', 'Bramble · Block B'],
        [0, '-', 'Bramble · In line, in no box'],
        [1, 'block', 'Wren · Feed block'],
        [2, 'block', 'Anvil · Cab block'],
      ] as const) {
        const pdf = await pdfAt(`/vehicles/${book.vehicles[vehicle]}/fuse-box/${box}/chart.pdf?size=${size}`)
        for (const page of pdf.pages) {
          expect(bare(page.text)).toContain(bare(name))
          expect(bare(page.text)).toContain(bare('25 November 2026 · the number on the fuse decides, not its colour'))
          expect(page.lowest_pt).toBeGreaterThan(0)
        }
      }
  })

  test('with names as long as they may be head and foot stand whole; what does not fit on a lid is cut where one sees it, on A5 all of it stands', async () => {
    const own = await openBook({ demo: false })
    const long = (letter: string) => Array.from({ length: 12 }, () => letter.repeat(8)).join(' ')
    const made = await own.post('/vehicles', { name: long('v'), systemVoltage_V: '12' })
    const vehicleId = (made.headers.location as string).slice('/vehicles/'.length)
    const make = (kind: string, ratings: Record<string, number | string>) => {
      const part = createPart(own.db, own.clock, own.actor, { kind, name: kind, ratings })
      if (!part.ok) throw new Error(JSON.stringify(part.refusals))
      return part.value.id
    }
    const [block, fuse, load] = [make('block', {}), make('fuse', { rated_A: 10, form: 'C' }), make('load', {})]
    const fitted = (key: string, name: string, part: string, more = {}) =>
      ({ kind: 'fitted', component: { key, name, part, ...more } }) as const
    const saved = append(own.db, own.clock, own.actor, {
      vehicleId,
      effectiveOn: TODAY,
      title: 'Recorded as found',
      changes: [
        fitted('bat', 'Battery', make('battery', { nominal_V: 12 })),
        fitted('box', long('b'), block),
        { kind: 'joined', from: 'bat:+', to: 'box:in' },
        fitted('f1', long('f'), fuse, { position: 'P1' }),
        { kind: 'joined', from: 'box:1', to: 'f1:in' },
        ...['k', 'l', 'm', 'n'].flatMap((letter) => [
          fitted(letter, long(letter), load),
          { kind: 'joined', from: 'f1:out', to: `${letter}:+` } as const,
        ]),
      ],
    })
    expect(saved.ok ? '' : JSON.stringify(saved.refusals)).toBe('')
    for (const size of ['card', 'a5']) {
      const pdf = readPdf((await own.get(`/vehicles/${vehicleId}/fuse-box/box/chart.pdf?size=${size}`)).rawPayload)
      for (const page of pdf.pages) {
        expect(page.text.match(/v{8}/g)?.length).toBe(12)
        expect(page.text.match(/b{8}/g)?.length).toBe(12)
        expect(bare(page.text)).toContain(bare('decides, not its colour'))
        expect(page.lowest_pt).toBeGreaterThan(0)
      }
      for (const letter of size === 'card' ? 'fk' : 'fklmn') expect(pdf.text.match(new RegExp(`${letter}{8}`, 'g'))?.length).toBe(12)
      expect(pdf.text.includes('…')).toBe(size === 'card')
    }
    await own.close()
  })

  test('a box of forty goes over several cards, says so, and loses no fuse', async () => {
    const own = await openBook({ demo: false })
    const made = await own.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    const vehicleId = (made.headers.location as string).slice('/vehicles/'.length)
    const make = (kind: string, name: string, ratings: Record<string, number | string>) => {
      const part = createPart(own.db, own.clock, own.actor, { kind, name, ratings })
      if (!part.ok) throw new Error(JSON.stringify(part.refusals))
      return part.value.id
    }
    const [block, fuse] = [make('block', 'Box', { ways: 40 }), make('fuse', 'Fuse', { rated_A: 7.5, form: 'F' })]
    const saved = append(own.db, own.clock, own.actor, {
      vehicleId,
      effectiveOn: TODAY,
      title: 'Recorded as found',
      changes: [
        { kind: 'fitted', component: { key: 'box', name: 'Main box', part: block } },
        ...Array.from({ length: 40 }, (_, n) => [
          { kind: 'fitted', component: { key: `f${n + 1}`, name: `Fuse ${n + 1}`, part: fuse, position: `F${n + 1}` } } as const,
          { kind: 'joined', from: `box:${n + 1}`, to: `f${n + 1}:in` } as const,
        ]).flat(),
      ],
    })
    expect(saved.ok).toBe(true)
    const address = `/vehicles/${vehicleId}/fuse-box/box/chart`
    const page = (await own.get(address)).body
    expect(page).toMatch(/goes over \d cards, set in 6 pt/)
    const pdf = readPdf((await own.get(`${address}.pdf`)).rawPayload)
    expect(pdf.pages.length).toBeGreaterThan(1)
    for (let n = 1; n <= 40; n++) {
      expect(page).toContain(`<th scope="row">F${n} Fuse ${n}</th>`)
      expect(bare(pdf.text)).toContain(`F${n}Fuse${n}7.5A(assumed)brownnothingrecordednonerecordednone`)
    }
    for (const [n, one] of pdf.pages.entries()) expect(one.text).toContain(`card ${n + 1} of ${pdf.pages.length}`)
    await own.close()
  })
})

describe('labels', () => {
  const codesIn = (page: string) =>
    [...page.matchAll(/aria-label="([^"]*)" viewBox="0 0 (\d+) \2"[^>]*>.*?d="([^"]*)"/g)].map((found) => ({
      says: unescaped(found[1] as string),
      text: readQr(modulesOf(found[3] as string, Number(found[2]))),
    }))

  test('each code, read module by module, opens its component’s page, and that asks who one is', async () => {
    const V = `/vehicles/${book.vehicles[0]}`
    const codes = codesIn((await book.get(`${V}/labels?which=all`)).body)
    expect(codes.length).toBeGreaterThan(50)
    const names = new Map(
      (JSON.parse((await book.get(`${V}/document.json`)).body) as { components: { key: string; name: string }[] }).components.map((one) => [
        one.key,
        one.name,
      ]),
    )
    for (const code of codes) {
      const { origin, pathname } = new URL(code.text)
      expect(origin).toBe('http://localhost')
      expect(pathname.startsWith(`${V}/components/`)).toBe(true)
      expect(code.says).toBe(`Code that opens ${names.get(pathname.slice(`${V}/components/`.length))} of Bramble`)
    }
    for (const code of codes.slice(0, 3)) expect((await book.get(new URL(code.text).pathname)).statusCode, code.text).toBe(200)
    const stranger = await book.app.inject(new URL(codes[0]?.text ?? '').pathname)
    expect(stranger.statusCode).toBe(303)
    expect(stranger.headers.location).toMatch(/^\/login\?next=/)
  })

  test('with an address configured the codes say that one; a build page’s link is taken once and not kept', async () => {
    const config = { data: book.data, host: '127.0.0.1', port: 0, timeZone: 'UTC', baseUrl: 'https://garage.example' }
    const app = await buildApp({ db: book.db, clock: book.clock, config })
    const headers = { cookie: book.cookie, host: 'garage.example' }
    const V = `/vehicles/${book.vehicles[0]}`
    const only = await app.inject({ url: `${V}/labels?only=r7`, headers })
    expect(codesIn(only.body).map((code) => code.text)).toEqual([`https://garage.example${V}/components/r7`])
    const ask = (link: string) =>
      app.inject({
        method: 'POST',
        url: `${V}/labels/build-page`,
        headers: { ...headers, 'content-type': 'application/x-www-form-urlencoded' },
        payload: new URLSearchParams({ _token: book.token, link }).toString(),
      })
    const link = `https://garage.example/b/${'aB3_-'.repeat(9)}`
    const made = await ask(link)
    expect(made.statusCode).toBe(200)
    expect(codesIn(made.body).map((code) => code.text)).toEqual([link])
    expect(made.headers['cache-control']).toBe('no-store')
    for (const wrong of [
      '',
      'https://elsewhere.example/b/aaaaaaaaaaaaaaaaaaaaaaaa',
      `${link}/../settings`,
      `${link}?x=1`,
      'javascript:alert(1)',
      'https://garage.example/b/short',
    ]) {
      const refused = await ask(wrong)
      expect(refused.statusCode, wrong).toBe(422)
      expect(refused.body).toContain('id="faults"')
    }
    await app.close()
  })

  test('the reader of codes sees a wrong module', async () => {
    const page = (await book.get(`/vehicles/${book.vehicles[0]}/labels?only=r7`)).body
    const [, size = '', path = ''] = /viewBox="0 0 (\d+) \d+"[^>]*>.*?d="([^"]*)"/.exec(page) ?? []
    const modules = modulesOf(path, Number(size)).map((row) => [...row])
    const row = modules[20] as boolean[]
    row[20] = !row[20]
    expect(() => readQr(modules)).toThrow()
  })
})
