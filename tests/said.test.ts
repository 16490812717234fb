/** What the process says of itself, to a person and to whatever collects its log. */
import fastify from 'fastify'
import { expect, test, vi } from 'vitest'
import { leave, say, sayFault, warn } from '../server/said.ts'

/** What is written to one of the process's streams meanwhile. */
function written(stream: 'stdout' | 'stderr', isTerminal: boolean, work: () => void): string {
  const { isTTY } = process[stream]
  let text = ''
  const write = vi.spyOn(process[stream], 'write').mockImplementation((piece) => {
    text += String(piece)
    return true
  })
  process[stream].isTTY = isTerminal
  try {
    work()
  } finally {
    process[stream].isTTY = isTTY
    write.mockRestore()
  }
  return text
}
const leaving = (work: () => never) => () => {
  const exit = vi.spyOn(process, 'exit').mockImplementation(() => {
    throw new Error('left')
  })
  expect(work).toThrow('left')
  exit.mockRestore()
}
const lines = (text: string) =>
  text
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Record<string, unknown>)
const REASONS = ['One is wrong.', 'So is "another".\nIn two lines.']

test('at a terminal: plain sentences', () => {
  expect(written('stdout', true, () => say('It is open.'))).toBe('It is open.\n')
  expect(written('stderr', true, () => warn('Take care.'))).toBe('Warning: Take care.\n')
  expect(
    written(
      'stderr',
      true,
      leaving(() => leave(2, REASONS)),
    ),
  ).toBe(`Loombook cannot start:\n  ${REASONS[0]}\n  ${REASONS[1]}\n`)
})

test('nothing to say is no line', () => {
  expect(written('stdout', true, () => say(null)) + written('stdout', false, () => say(null))).toBe('')
})

// pino's numbers: 30 info, 40 warn, 50 error, 60 fatal (docs/api.md, "logger.levels").
test('elsewhere: a line of JSON each, as the log of requests has them', async () => {
  const beside: string[] = []
  const app = fastify({ logger: { stream: { write: (line: string) => beside.push(line) } } })
  app.log.info('beside')
  await app.close()
  const names = Object.keys(lines(beside.join(''))[0] as object).sort()
  const from = Date.now()
  const all = [
    ...lines(written('stdout', false, () => say('It is open.'))),
    ...lines(written('stderr', false, () => warn('Take care.'))),
    ...lines(
      written(
        'stderr',
        false,
        leaving(() => leave(2, REASONS)),
      ),
    ),
  ]
  expect(all.map(({ level, msg }) => [level, msg])).toEqual([
    [30, 'It is open.'],
    [40, 'Take care.'],
    [60, `Loombook cannot start: ${REASONS[0]}`],
    [60, `Loombook cannot start: ${REASONS[1]}`],
  ])
  for (const one of all) {
    expect(Object.keys(one).sort()).toEqual(names)
    expect(one.time).toBeGreaterThanOrEqual(from)
    expect(one.time).toBeLessThanOrEqual(Date.now())
    expect([one.pid, one.hostname]).toEqual([process.pid, lines(beside.join(''))[0]?.hostname])
  }
})

test('work that failed goes to the log as a fault with its trace; at a terminal it is one sentence', async () => {
  const [log, terminal]: [string[], string[]] = [[], []]
  const app = fastify({ logger: { level: 'error', stream: { write: (line: string) => log.push(line) } } })
  const fault = new Error('no such table')
  sayFault(app.log, 'It failed', fault, { isTTY: true, write: (text: string) => terminal.push(text) })
  expect([terminal, log]).toEqual([['It failed: no such table\n'], []])
  sayFault(app.log, 'It failed', fault, { write: (text: string) => terminal.push(text) })
  await app.close()
  expect(terminal).toHaveLength(1)
  expect(lines(log.join(''))).toMatchObject([{ level: 50, msg: 'It failed', err: { type: 'Error', message: 'no such table' } }])
})
