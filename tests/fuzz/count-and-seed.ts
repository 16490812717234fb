/** What the commands that try things at random are told: how many, and where the chance begins. */

/** Ends the process with 2 where what is given are no whole numbers. */
export function countAndSeed(command: string, usual: number): readonly [count: number, seed: number] {
  const [count, seed] = [option('--count', usual), option('--seed', 1)]
  if ([count, seed].every(Number.isSafeInteger) && count >= 1) return [count, seed]
  process.stderr.write(`Usage: npm run ${command} -- --count N [--seed S]\n`)
  process.exit(2)
}

function option(name: string, otherwise: number): number {
  const at = process.argv.indexOf(name)
  return at < 0 ? otherwise : Number(process.argv[at + 1])
}
