import { readFileSync } from 'node:fs'
import { describe, expect, test } from 'vitest'

const css = readFileSync(`${import.meta.dirname}/../../static/app.css`, 'utf8')
const blocks = [...css.matchAll(/:root\s*\{([^}]*)\}/g)].map((found) => found[1] as string)
const colours = (block: string) =>
  Object.fromEntries([...block.matchAll(/--([a-z]+):\s*(#[0-9a-f]{3,6})\b/gi)].map(([, name, hex]) => [name as string, hex as string]))
const light = colours(blocks[0] as string)
const dark = { ...light, ...colours(blocks[1] as string) }

/** Relative luminance and contrast ratio, WCAG 2.2 (definitions of both terms). */
function luminance(hex: string): number {
  const full = hex.length === 4 ? [...hex.slice(1)].map((one) => one + one).join('') : hex.slice(1)
  const [r, g, b] = [0, 2, 4].map((at) => {
    const share = Number.parseInt(full.slice(at, at + 2), 16) / 255
    return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4
  }) as [number, number, number]
  return 0.2126 * r + 0.7152 * g + 0.0722 * b
}
function contrast(one: string, other: string): number {
  const [dim, bright] = [luminance(one), luminance(other)].sort((a, b) => a - b) as [number, number]
  return (bright + 0.05) / (dim + 0.05)
}

test('the formula: black on white is 21, a colour on itself 1, #777 on white 4.48', () => {
  expect(contrast('#000', '#fff')).toBeCloseTo(21, 6)
  expect(contrast('#b34700', '#b34700')).toBe(1)
  expect(contrast('#777777', '#ffffff')).toBeCloseTo(4.48, 2)
})

describe.each([
  ['light', light],
  ['dark', dark],
])('%s theme', (_, theme) => {
  const of = (name: string) => theme[name] as string
  test.each(['ink', 'soft', 'accent', 'over'].flatMap((text) => ['paper', 'tint', 'field'].map((ground) => [text, ground] as const)))(
    'text in %s on %s',
    (text, ground) => expect(contrast(of(text), of(ground))).toBeGreaterThanOrEqual(4.5),
  )
  test('text on the main button', () => expect(contrast(of('paper'), of('accent'))).toBeGreaterThanOrEqual(4.5))
  test.each(['over', 'tight', 'unknown', 'clear', 'accent', 'soft'])('marks, fills and edges in %s on paper and field', (name) => {
    expect(contrast(of(name), of('paper'))).toBeGreaterThanOrEqual(3)
    expect(contrast(of(name), of('field'))).toBeGreaterThanOrEqual(3)
  })
})
