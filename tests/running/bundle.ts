/** The server's sources as one file that starts fast: the same program, read once. Packages stay where they are. */
import { mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { build } from 'esbuild'

const root = join(import.meta.dirname, '../..')

/** `entry` is a path from the root of the repository. Answers the path of the file to run with node, in a folder of its own. */
export async function bundled(entry: string): Promise<string> {
  // Beside the tree and not in it, which may be for reading only; packages are found from there through a link.
  const folder = mkdtempSync(join(tmpdir(), 'loombook-bundled-'))
  symlinkSync(join(root, 'node_modules'), join(folder, 'node_modules'))
  const outfile = join(folder, `${entry.replace(/[^a-z0-9]+/g, '-')}.mjs`)
  await build({
    entryPoints: [join(root, entry)],
    outfile,
    bundle: true,
    packages: 'external',
    platform: 'node',
    format: 'esm',
    target: 'node20',
    logLevel: 'error',
    plugins: [
      {
        name: 'every source keeps its own place',
        setup(given) {
          given.onLoad({ filter: /\.ts$/ }, ({ path }) => ({
            loader: 'ts',
            contents: readFileSync(path, 'utf8')
              .replaceAll('import.meta.dirname', JSON.stringify(dirname(path)))
              .replaceAll('import.meta.url', JSON.stringify(pathToFileURL(path).href)),
          }))
        },
      },
    ],
  })
  return outfile
}

/** Nothing where it was never made: then what comes after a set-up that failed says no more than the set-up did. */
export function removeBundled(program: string | undefined): void {
  if (program !== undefined) rmSync(dirname(program), { recursive: true, force: true })
}
