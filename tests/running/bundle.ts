/** The server's sources as one file that starts fast: the same program, read once. Packages stay where they are. */
import { mkdirSync, readFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { pathToFileURL } from 'node:url'
import { build } from 'esbuild'

const root = join(import.meta.dirname, '../..')

/** `entry` is a path from the root of the repository. Answers the path of the file to run with node. */
export async function bundled(entry: string): Promise<string> {
  // Within node_modules, so that packages are found from there.
  const outfile = join(root, 'node_modules', '.cache', 'loombook', `${entry.replace(/[^a-z0-9]+/g, '-')}-${process.pid}.mjs`)
  mkdirSync(dirname(outfile), { recursive: true })
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
