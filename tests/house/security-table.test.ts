import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'

const root = join(import.meta.dirname, '../..')
const rows = readFileSync(join(root, 'DEVELOPERS.md'), 'utf8')
  .split('\n')
  .filter((line) => /^\| \d+\.\d+\.\d/.test(line))
  .map((line) => line.slice(2, -2).split(/ \| /))

/** "`file`: how a test's name begins; `other`" → the pairs. */
const shownBy = (cell: string) =>
  [...cell.matchAll(/`([\w./-]+\.test\.ts)`(?:: ([^`;]+))?/g)].map(([, file = '', name]) => ({
    file,
    names: name === undefined ? [] : [name.trim()],
  }))

test('the table of security requirements has a row for each, of five cells', () => {
  expect(rows.length).toBeGreaterThan(100)
  for (const row of rows) expect(row, row[0]).toHaveLength(5)
  const all = rows.map((row) => row[0])
  expect(all.filter((one, at) => all.indexOf(one) !== at)).toEqual([])
})

test('every test that the table names is there under that name', () => {
  const lost = rows.flatMap(([row = '', , , , cell = '']) =>
    shownBy(cell).flatMap(({ file, names }) => {
      const path = join(root, file)
      if (!existsSync(path)) return [`${row}: ${file}`]
      const source = readFileSync(path, 'utf8')
      return names.filter((name) => !source.includes(name)).map((name) => `${row}: ${file}: ${name}`)
    }),
  )
  expect(lost).toEqual([])
})

test('a row that no test shows says why, or is the operator’s', () => {
  const silent = rows.filter(
    ([, , , met = '', cell = '']) => shownBy(cell).length === 0 && cell !== 'as above' && !cell.startsWith('–') && met !== '',
  )
  expect(silent.map((row) => row[0])).toEqual([])
})
