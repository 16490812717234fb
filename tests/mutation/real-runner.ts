/** Tries a mutant by the real runner, in a copy of the tree. */
import { spawn } from 'node:child_process'
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Mutant, mutated } from './mutants.ts'

const LONGEST_ms = 180_000

export type Copy = { readonly failsOn: (mutant: Mutant | null, tests: readonly string[]) => Promise<boolean>; readonly remove: () => void }

/** A copy of all that the tests read. Packages are shared by a link. */
export function copyOf(root: string): Copy {
  const copy = mkdtempSync(join(tmpdir(), 'loombook-mutate-'))
  for (const name of ['server', 'tests', 'views', 'static', 'migrations', 'package.json', 'tsconfig.json', 'vitest.config.ts'])
    cpSync(join(root, name), join(copy, name), { recursive: true })
  symlinkSync(join(root, 'node_modules'), join(copy, 'node_modules'))
  return {
    failsOn: async (mutant, tests) => {
      if (!mutant) return runs(copy, tests)
      const source = readFileSync(join(root, mutant.file), 'utf8')
      writeFileSync(join(copy, mutant.file), mutated(source, mutant))
      try {
        return await runs(copy, tests)
      } finally {
        writeFileSync(join(copy, mutant.file), source)
      }
    },
    remove: () => rmSync(copy, { recursive: true, force: true }),
  }
}

/** Whether any test fails; one that never ends does. */
function runs(copy: string, tests: readonly string[]): Promise<boolean> {
  return new Promise((resolve, reject) => {
    const runner = spawn(
      process.execPath,
      [join(copy, 'node_modules/vitest/vitest.mjs'), 'run', '--bail', '1', '--maxWorkers', '1', ...tests],
      {
        cwd: copy,
        stdio: 'ignore',
        // Fewer random documents: they stand for what no row asks.
        env: { ...process.env, LOOMBOOK_RANDOM_DOCUMENTS: '60' },
      },
    )
    const timer = setTimeout(() => runner.kill('SIGKILL'), LONGEST_ms)
    runner.on('error', reject)
    runner.on('exit', (code) => {
      clearTimeout(timer)
      resolve(code !== 0)
    })
  })
}
