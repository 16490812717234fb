import { readdirSync, readFileSync } from 'node:fs'
import { join, relative } from 'node:path'
import { expect, test } from 'vitest'
import { partKinds } from '../../server/engine/parts/index.ts'
import { rules } from '../../server/engine/rules/index.ts'

const root = join(import.meta.dirname, '../..')
const files = (folder: string): string[] =>
  readdirSync(join(root, folder), { recursive: true, withFileTypes: true }).flatMap((one) =>
    one.isFile() && one.name.endsWith('.ts') ? [relative(root, join(one.parentPath, one.name))] : [],
  )
const imports = (file: string) =>
  [...readFileSync(join(root, file), 'utf8').matchAll(/from '([^']+)'|import '([^']+)'/g)].map((found) => (found[1] ?? found[2]) as string)
const rooms: Readonly<Record<string, readonly string[]>> = {
  'server/engine': ['server/engine'],
  'server/document': ['server/document', 'server/engine'],
  'server/drawing': ['server/drawing', 'server/engine'],
  'server/records': ['server/records', 'server/document', 'server/engine'],
  'server/web': ['server/web'],
  'server/api': ['server/api', 'server/records', 'server/document', 'server/engine', 'server/web'],
  'server/pages': ['server/pages', 'server/records', 'server/drawing', 'server/document', 'server/engine', 'server/web'],
}

test.each(Object.entries(rooms))('%s imports only what its arrows allow', (room, allowed) => {
  for (const file of files(room)) {
    for (const path of imports(file).filter((one) => one.startsWith('.'))) {
      const target = relative(root, join(root, file, '..', path))
      expect(
        allowed.some((one) => target.startsWith(`${one}/`)),
        `${file} → ${target}`,
      ).toBe(true)
    }
  }
})

test('the engine imports no package and nothing of the machine', () => {
  for (const file of files('server/engine')) for (const path of imports(file)) expect(path.startsWith('.'), `${file} → ${path}`).toBe(true)
})

test('no page imports another page', () => {
  for (const file of files('server/pages')) {
    const own = file.split('/').slice(0, 3).join('/')
    for (const path of imports(file).filter((one) => one.startsWith('.'))) {
      const target = relative(root, join(root, file, '..', path))
      if (target.startsWith('server/pages/') && file !== 'server/pages/index.ts')
        expect(target.startsWith(own) || target.startsWith('server/pages/shared/'), `${file} → ${target}`).toBe(true)
    }
  }
})

test('every rule and part kind has a file, and every file is listed', () => {
  const shelf = (folder: string, others: readonly string[]) =>
    readdirSync(join(root, folder))
      .map((name) => name.replace('.ts', ''))
      .filter((name) => !others.includes(name))
      .sort()
  expect(shelf('server/engine/rules', ['index', 'rule', 'check', 'sentence', 'figure', 'explain'])).toEqual(
    rules.map((rule) => rule.id).sort(),
  )
  expect(
    shelf('server/engine/parts', ['index', 'field', 'part-kind', 'every-kind', 'conductor-sizes', 'load-fields', 'protective-fields']),
  ).toEqual(partKinds.map((kind) => kind.id).sort())
})

test('every rule says why, its sources and its remedy', () => {
  for (const rule of rules) {
    expect(rule.why.length, rule.id).toBeGreaterThan(20)
    expect(rule.sources.length, rule.id).toBeGreaterThan(0)
    expect(rule.remedy.length, rule.id).toBeGreaterThan(10)
    expect(rule.formula.length, rule.id).toBeGreaterThan(10)
    expect(rule.limits.length, rule.id).toBeGreaterThan(20)
  }
})

test('every form that posts carries its token', () => {
  for (const file of readdirSync(join(root, 'views'), { recursive: true, withFileTypes: true }).filter((one) => one.isFile())) {
    const text = readFileSync(join(file.parentPath, file.name), 'utf8')
    expect((text.match(/method="post"/g) ?? []).length, file.name).toBe((text.match(/_token', it\)/g) ?? []).length)
  }
})

test('htmx is the file its package brings', () => {
  expect(readFileSync(join(root, 'static/htmx.min.js'))).toEqual(readFileSync(join(root, 'node_modules/htmx.org/dist/htmx.min.js')))
})
