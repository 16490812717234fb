import { gzipSync } from 'node:zlib'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { type Book, openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

let book: Book
let pages: readonly { readonly name: string; readonly body: string }[]
beforeAll(async () => {
  book = await openBook()
  pages = await Promise.all(
    book.vehicles.map(async (id, n) => ({
      name: ['Bramble', 'Wren', 'Anvil'][n] as string,
      body: (await book.get(`/vehicles/${id}/wiring-drawing`)).body,
    })),
  )
})
afterAll(() => book.close())

const plain = (html: string) => textOf(html).replaceAll('&amp;', '&').replaceAll('&quot;', '"')
/** The shapes of all sheets: where each leads, its title, and the words drawn on it. */
function shapes(body: string) {
  const svgs = [...body.matchAll(/<svg class="drawing".*?<\/svg>/gs)].map((found) => found[0]).join('')
  return [...svgs.matchAll(/<a class="(\w+)"[^>]* href="([^"]*)"><title>([^<]*)<\/title>(.*?)<\/a>/gs)].map(
    ([, look, href, title = '', inside = '']) => ({
      ...{ look, href: plain(href as string), title: plain(title) },
      words: [...inside.matchAll(/<text [^>]*>([^<]*)<\/text>/g)].map((one) => plain(one[1] as string)),
    }),
  )
}
function rows(body: string, id: string) {
  return [...insideOf(body, id).matchAll(/<tr>(.*?)<\/tr>/gs)].slice(1).map(([, row = '']) => ({
    href: plain(/href="([^"]*)"/.exec(row)?.[1] ?? ''),
    cells: [...row.matchAll(/<t[hd][^>]*>(.*?)<\/t[hd]>/gs)].map((one) => plain(one[1] as string)),
  }))
}

test('the tables say of every conductor, component and join exactly what the drawing does', () => {
  for (const { name, body } of pages) {
    const drawn = shapes(body)
    const wires = drawn.filter((one) => one.look === 'wire')
    const table = rows(body, 'conductor-table')
    expect(table.length, name).toBeGreaterThan(20)
    expect(wires.length, name).toBe(table.length)
    for (const { href, cells } of table) {
      const [title, number, from, to, crossSection, colour, length, fittings] = cells as [
        string,
        string,
        string,
        string,
        string,
        string,
        string,
        string,
        string,
      ]
      const wire = wires.find((one) => one.href === href)
      const facts = [number, crossSection, colour, length, fittings].filter((one) => one !== '')
      expect(wire?.title).toBe(`${title}: ${[`from ${from} to ${to}`, ...facts].join('; ')}`)
      // Drawn in ink: the first line above the wire, its length below it.
      expect(wire?.words[0]).toBe([number, crossSection, colour].filter((one) => one !== '').join(' '))
      expect(wire?.words[1]).toBe(length)
    }
    const symbols = rows(body, 'symbol-table')
    const hrefs = new Set(drawn.filter((one) => one.look === 'symbol').map((one) => `${one.href} ${one.title}`))
    expect([...hrefs].sort(), name).toEqual(symbols.map(({ href, cells }) => `${href} ${cells[0]}: ${cells[1]}`).sort())
    const ties = [...body.matchAll(/<g class="tie"><title>([^<]*)<\/title>/g)].map((one) => plain(one[1] as string))
    expect(ties.sort()).toEqual(
      rows(body, 'tie-table')
        .map(({ cells }) => `${cells[0]} to ${cells[1]}`)
        .sort(),
    )
  }
})

test('the place in the tables is where the shape stands, by the marks of the frame', () => {
  for (const { body } of pages) {
    const places = new Map(rows(body, 'symbol-table').map(({ href, cells }) => [href, cells[2] as string]))
    const sheets = [...body.matchAll(/<svg class="drawing".*?<\/svg>/gs)].map((found) => found[0])
    let checked = 0
    sheets.forEach((svg, n) => {
      for (const [, px, py, x, y, href, width, height] of svg.matchAll(
        /(?=<g transform="translate\(([\d.]+) ([\d.]+)\)">(?:(?!<g transform="translate\([\d.]+ [\d.]+\)"><a class="symbol").)*?<g transform="translate\(([\d.]+) ([\d.]+)\)"><a class="symbol"[^>]* href="([^"]*)"><title>[^<]*<\/title><rect class="touch" width="([\d.]+)" height="([\d.]+)")/gs,
      )) {
        const place = places.get(plain(href as string))
        if (place === undefined || !place.startsWith(`${n + 1}.`)) continue
        const [column, row] = [
          (Number(px) + Number(x) + Number(width) / 2 - 28) / 125,
          (Number(py) + Number(y) + Number(height) / 2 - 28) / 130,
        ]
        if ([column, row].some((one) => Math.abs(one - Math.round(one)) < 0.01)) continue
        if (place === `${n + 1}.${'ABCDE'[Math.floor(row)]}${Math.floor(column) + 1}`) checked++
      }
    })
    expect(checked).toBeGreaterThan(3)
  }
})

test('each reference leads to a shape of the page', () => {
  for (const { body } of pages) {
    const references = shapes(body).filter((one) => one.look === 'reference')
    expect(references.length).toBeGreaterThan(5)
    for (const { href, title } of references) {
      expect(body, href).toContain(` id="${href?.slice(1)}"`)
      expect(title).toMatch(/\d+\.[A-E][1-8]/)
    }
  }
})

test('a drawing has a name and a description, nothing inline, and comes in one colour: that of the ink', () => {
  for (const { body } of pages)
    for (const [svg] of body.matchAll(/<svg class="drawing".*?<\/svg>/gs)) {
      const [, title, desc] = /aria-labelledby="(\S+) (\S+)"/.exec(svg) as unknown as [string, string, string]
      expect(svg).toContain(`<title id="${title}">Wiring drawing of `)
      expect(svg).toContain(`<desc id="${desc}">`)
      expect(svg).not.toMatch(/ style=|<style|<script/)
      for (const [, paint] of svg.matchAll(/ (?:fill|stroke)="([^"]*)"/g)) expect(['none', 'currentColor']).toContain(paint)
    }
})

test('the day asked for is drawn: before R7 was split, and before anything was', async () => {
  const V = `/vehicles/${book.vehicles[0]}`
  const then = (await book.get(`${V}/wiring-drawing?on=2021-05-01`)).body
  expect(rows(then, 'conductor-table').length).toBeLessThan(rows(pages[0]?.body ?? '', 'conductor-table').length)
  expect(then).toContain('As of</text>')
  expect(then).toContain('>1 May 2021</text>')
  expect(then).toContain(`${V}/components/battery?on=2021-05-01"`)
  expect(textOf((await book.get(`${V}/wiring-drawing?on=2000-01-01`)).body)).toContain('nothing to draw')
  expect((await book.get(`${V}/wiring-drawing?on=tuesday`)).statusCode).toBe(422)
})

test('all sheets of the largest demonstration vehicle stay within their bytes', () => {
  const svgs = [...(pages[0]?.body ?? '').matchAll(/<svg class="drawing".*?<\/svg>/gs)].map((found) => found[0]).join('')
  expect(gzipSync(svgs).length).toBeLessThanOrEqual(150_000)
})

test('what a user wrote cannot leave its place in the drawing', async () => {
  const made = await book.post('/vehicles', { name: '<b>"Fern" & co</b>', systemVoltage_V: '12' })
  const V = made.headers.location as string
  const page = await book.get(`${V}/wiring-drawing`)
  expect(page.statusCode).toBe(200)
  expect(page.body).not.toContain('<b>')
})
