import { expect, test } from 'vitest'
import { atOnce, inTurns } from '../../server/records/turns.ts'

function* counting(pauses: number): Generator<void, number> {
  for (let n = 0; n < pauses; n++) yield
  return pauses
}

test('done at once or in turns it comes to the same; in turns, others have theirs in between', async () => {
  expect(atOnce(counting(1000))).toBe(1000)
  let others = 0
  const other = () => {
    others++
    next = setImmediate(other)
  }
  let next = setImmediate(other)
  expect(await inTurns(counting(1000))).toBe(1000)
  clearImmediate(next)
  // A turn is 200 pauses: of 1000 pauses others come between 5 times, whatever else they wait for.
  expect(others).toBeGreaterThanOrEqual(4)
})

test('what goes wrong in between is heard, and what was opened is closed', async () => {
  let isClosed = false
  function* failing(): Generator<void, number> {
    try {
      for (let n = 0; n < 300; n++) yield
      throw new Error('the disk is gone')
    } finally {
      isClosed = true
    }
  }
  await expect(inTurns(failing())).rejects.toThrow('the disk is gone')
  expect(isClosed).toBe(true)
  expect(() => atOnce(failing())).toThrow('the disk is gone')
})
