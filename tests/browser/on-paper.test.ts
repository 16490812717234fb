/** What the browser itself prints: sizes of pages, and whether everything stands on them. */
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { append } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { launch, PASSWORD, serve } from './browser.ts'

let browser: Browser
let served: Awaited<ReturnType<typeof serve>>
let page: Page

beforeAll(async () => {
  browser = await launch()
  served = await serve()
  page = await (await browser.newContext({ viewport: { width: 1200, height: 800 } })).newPage()
  await page.goto(`${served.address}/login`)
  await page.fill('#name', 'Owner')
  await page.fill('#password', PASSWORD)
  await page.click('main button[type=submit]')
})
afterAll(async () => {
  await browser?.close()
  await served?.close()
})

/** Width and height of each page in mm, as the browser's own file says. */
function pagesOf(pdf: Buffer): readonly (readonly [number, number])[] {
  return [...pdf.toString('latin1').matchAll(/\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/g)].map(
    ([, width, height]) => [(Number(width) / 72) * 25.4, (Number(height) / 72) * 25.4] as const,
  )
}

const boxes = [
  [0, 'block'],
  [0, 'house-block'],
  [0, '-'],
  [1, 'block'],
  [1, '-'],
  [2, 'block'],
] as const

test.each([
  ['card', 90, 60],
  ['a5', 148, 210],
] as const)(
  'a fuse chart as %s prints on pages of exactly that size, a page a card, in type of 5 pt or more',
  async (size, width_mm, height_mm) => {
    for (const [vehicle, box] of boxes) {
      await page.goto(`${served.address}/vehicles/${served.vehicleIds[vehicle]}/fuse-box/${box}/chart?size=${size}&paper=exact`)
      await page.emulateMedia({ media: null })
      const pages = pagesOf(await page.pdf({ preferCSSPageSize: true }))
      await page.emulateMedia({ media: 'print' })
      const cards = await page.locator('.card').count()
      expect(pages.length, `${vehicle} ${box}`).toBe(cards)
      // The browser counts in pixels of 1/96 inch: half of one is 0.13 mm.
      for (const [width, height] of pages) {
        expect(Math.abs(width - width_mm), `${width}`).toBeLessThan(0.2)
        expect(Math.abs(height - height_mm), `${height}`).toBeLessThan(0.2)
      }
      const sizes_px = (await page.evaluate(
        `[...document.querySelectorAll('.card *')].map((one) => parseFloat(getComputedStyle(one).fontSize))`,
      )) as number[]
      expect(Math.min(...sizes_px) * 0.75).toBeGreaterThanOrEqual(5)
      await page.emulateMedia({ media: null })
    }
  },
)

test('on A4 and Letter a card is to scale, and nothing in it is wider than it', async () => {
  await page.goto(`${served.address}/vehicles/${served.vehicleIds[0]}/fuse-box/block/chart`)
  await page.emulateMedia({ media: 'print' })
  const found = (await page.evaluate(
    `[...document.querySelectorAll('.card')].map((one) => { const box = one.getBoundingClientRect(); const inner = one.querySelector('table'); return [box.width, box.height, one.scrollWidth - one.clientWidth, inner.scrollWidth - inner.clientWidth] })`,
  )) as [number, number, number, number][]
  for (const [width, height, over, tableOver] of found) {
    expect((width / 96) * 25.4).toBeCloseTo(90, 1)
    expect((height / 96) * 25.4).toBeCloseTo(60, 1)
    expect([over, tableOver]).toEqual([0, 0])
  }
  const labels = `${served.address}/vehicles/${served.vehicleIds[0]}/labels`
  await page.goto(labels)
  const label = (await page.evaluate(
    `(() => { const one = document.querySelector('.code-label'); const box = one.getBoundingClientRect(); const code = one.querySelector('svg').getBoundingClientRect(); return [box.width, box.height, code.width, one.scrollHeight - one.clientHeight] })()`,
  )) as number[]
  expect(((label[0] as number) / 96) * 25.4).toBeCloseTo(60, 1)
  expect(((label[1] as number) / 96) * 25.4).toBeCloseTo(30, 1)
  expect(((label[2] as number) / 96) * 25.4).toBeCloseTo(26, 1)
  await page.emulateMedia({ media: null })
})

test.each(['A4', 'Letter'])('the handover file on %s: tables inside the page, heads repeated, rows whole', async (format) => {
  for (const vehicle of served.vehicleIds) {
    await page.goto(`${served.address}/vehicles/${vehicle}/handover-file`)
    await page.emulateMedia({ media: null })
    const pages = pagesOf(await page.pdf({ format }))
    const [width_mm, height_mm] = format === 'A4' ? [210, 297] : [215.9, 279.4]
    expect(pages.length).toBeGreaterThan(2)
    for (const [width, height] of pages) {
      // The sheets of the drawing lie across.
      expect(Math.abs(Math.min(width, height) - (width_mm as number))).toBeLessThan(0.5)
      expect(Math.abs(Math.max(width, height) - (height_mm as number))).toBeLessThan(0.5)
    }
    expect(pages.filter(([width, height]) => width < height).length).toBeGreaterThan(2)
    // Laid out as wide as the paper between its margins of 15 mm.
    await page.setViewportSize({ width: Math.floor((((width_mm as number) - 30) / 25.4) * 96), height: 900 })
    await page.emulateMedia({ media: 'print' })
    const found = (await page.evaluate(
      `({ wide: document.documentElement.scrollWidth - document.documentElement.clientWidth, heads: [...document.querySelectorAll('.section thead')].map((one) => getComputedStyle(one).display), rows: [...document.querySelectorAll('.section tr')].map((one) => getComputedStyle(one).breakInside) })`,
    )) as { wide: number; heads: string[]; rows: string[] }
    expect(found.wide).toBeLessThanOrEqual(0)
    expect(new Set(found.heads)).toEqual(new Set(['table-header-group']))
    expect(new Set(found.rows)).toEqual(new Set(['avoid']))
    await page.emulateMedia({ media: null })
    await page.setViewportSize({ width: 1200, height: 800 })
  }
})

test('on a narrow screen no word of the handover file is broken letter by letter: every cell has the width of the page', async () => {
  await page.setViewportSize({ width: 320, height: 800 })
  await page.goto(`${served.address}/vehicles/${served.vehicleIds[0]}/handover-file`)
  const widths = (await page.evaluate(
    `[...document.querySelectorAll('.section table.stack td')].filter((one) => one.textContent !== '').map((one) => one.getBoundingClientRect().width)`,
  )) as number[]
  expect(widths.length).toBeGreaterThan(200)
  expect(Math.min(...widths)).toBeGreaterThan(240)
  expect(await page.evaluate('document.documentElement.scrollWidth - document.documentElement.clientWidth')).toBe(0)
  await page.setViewportSize({ width: 1200, height: 800 })
})

test.each(['wiring-drawing', 'current-picture', 'cut-list'])(
  '%s prints on pages that lie alike but for tall strips, its foot on the last with what it is the foot of',
  async (what) => {
    for (const vehicle of served.vehicleIds) {
      await page.goto(`${served.address}/vehicles/${vehicle}/${what}`)
      await page.emulateMedia({ media: null })
      const pages = pagesOf(await page.pdf({ format: 'A4' }))
      const tall = await page.locator('.picture.tall').count()
      expect(pages.filter(([width, height]) => width < height).length).toBe(tall)
    }
  },
)

test('on a card no head of a column and no figure is broken, on the owner’s page as on a build page', async () => {
  const ticks = 'preset=workshop&chosen=yes&recipient=x&expiresOn=2026-12-30&page-wiring=yes'
  for (const [n, vehicle] of served.vehicleIds.entries())
    for (const size of ['card', 'a5'])
      for (const path of [`fuse-box/block/chart?size=${size}`, `hand-over/preview/fuses?${ticks}&size=${size}`]) {
        await page.goto(`${served.address}/vehicles/${vehicle}/${path}`)
        await page.emulateMedia({ media: 'print' })
        const heights = (await page.evaluate(
          `[...document.querySelectorAll('table.chart thead th, table.chart td:nth-child(2), table.chart td:nth-child(5)')].map((one) => { const range = document.createRange(); range.selectNodeContents(one); return range.getClientRects().length })`,
        )) as number[]
        expect(heights.length, `${n} ${path}`).toBeGreaterThan(4)
        expect(Math.max(...heights), `${n} ${path}`).toBe(1)
        const over = (await page.evaluate(
          `[...document.querySelectorAll('.card')].map((one) => [one.getBoundingClientRect().height, one.scrollWidth - one.clientWidth])`,
        )) as [number, number][]
        const height_mm = size === 'card' ? 60 : 210
        for (const [height, wide] of over) {
          expect((height / 96) * 25.4, `${n} ${path}`).toBeCloseTo(height_mm, 0)
          expect(wide).toBe(0)
        }
        await page.emulateMedia({ media: null })
      }
})

test('a fuse without a grade says so in a word that stands whole, in the largest type that holds it', async () => {
  const clock = fixedClock('2026-11-25T12:00:00Z')
  await page.emulateMedia({ media: null })
  await page.goto(`${served.address}/vehicles/new`)
  await page.fill('#name', 'Fern')
  await page.click('main button[type=submit]')
  const vehicleId = (/\/vehicles\/([^/?]+)/.exec(page.url()) as RegExpExecArray)[1] as string
  const part = (kind: string, ratings: Record<string, number | string>) => {
    const made = createPart(served.db, clock, served.actor, { kind, name: `A ${kind}`, ratings } as never)
    if (!made.ok) throw new Error(JSON.stringify(made.refusals))
    return made.value.id
  }
  const saved = append(served.db, clock, served.actor, {
    vehicleId,
    effectiveOn: '2026-11-25',
    title: 'Recorded as found',
    changes: [
      { kind: 'fitted', component: { key: 'box', name: 'Box', part: part('block', {}) } },
      { kind: 'fitted', component: { key: 'f1', name: 'F1', part: part('fuse', { rated_A: 15, form: 'C' }) } },
      { kind: 'fitted', component: { key: 'w1', name: 'W1', part: part('conductor', { crossSection_mm2: 1, material: 'copper' }) } },
      { kind: 'joined', from: 'box:1', to: 'f1:in' },
      { kind: 'joined', from: 'f1:out', to: 'w1:a' },
      { kind: 'fitted', component: { key: 'lamp', name: 'Lamp', part: part('load', {}) } },
      { kind: 'joined', from: 'w1:b', to: 'lamp:+' },
      { kind: 'fitted', component: { key: 'bat', name: 'Battery', part: part('battery', { nominal_V: 12 }) } },
      { kind: 'joined', from: 'bat:+', to: 'box:in' },
    ],
  })
  expect(saved.ok ? '' : JSON.stringify(saved.refusals)).toBe('')
  for (const [size, least_pt] of [
    ['card', 7],
    ['a5', 11],
  ] as const) {
    await page.goto(`${served.address}/vehicles/${vehicleId}/fuse-box/box/chart?size=${size}`)
    await page.emulateMedia({ media: 'print' })
    // Every word by itself: in how many pieces it stands.
    const words = (await page.evaluate(
      `[...document.querySelectorAll('table.chart td:nth-child(2)')].flatMap((cell) => [...cell.textContent.matchAll(/[^ ]+/g)].map((word) => { const range = document.createRange(); range.setStart(cell.firstChild, word.index); range.setEnd(cell.firstChild, word.index + word[0].length); return [word[0], range.getClientRects().length] }))`,
    )) as [string, number][]
    expect(words, size).toEqual([
      ['15\u00a0A', 1],
      ['(assumed)', 1],
    ])
    expect(await page.textContent('table.chart td:nth-child(5)'), size).toBe('1\u00a0mm²')
    const size_px = (await page.evaluate(`parseFloat(getComputedStyle(document.querySelector('table.chart td')).fontSize)`)) as number
    expect(size_px * 0.75, size).toBeGreaterThanOrEqual(least_pt - 0.01)
    await page.emulateMedia({ media: null })
  }
})
