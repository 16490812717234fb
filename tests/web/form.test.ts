import { describe, expect, test } from 'vitest'
import { FormReader } from '../../server/web/form.ts'

const faultOf = (read: (form: FormReader) => unknown, typed: unknown) => {
  const form = new FormReader({ field: typed })
  const value = read(form)
  return { value, says: form.faults.map((one) => one.says).join(' ') }
}

describe('B26: numbers as they are typed', () => {
  const km = (form: FormReader) => form.number('field', { min: 0, max: 9_999_999, whole: true })
  const amps = (form: FormReader) => form.number('field', { min: 0, max: 1e6 })
  test.each([
    ['12', 12],
    [' 12 ', 12],
    ['1,5', 1.5],
    ['1.5', 1.5],
    ['+3', 3],
    ['007', 7],
    ['', null],
    ['   ', null],
  ])('“%s” is %s', (typed, value) => expect(faultOf(amps, typed)).toEqual({ value, says: '' }))

  test.each([
    ['1,234', 'could be one or a thousand times that'],
    ['1.234,5', 'not a plain number'],
    ['１２３', 'not a plain number'],
    ['0x10', 'not a plain number'],
    ['1e15', 'not a plain number'],
    ['Infinity', 'not a plain number'],
    ['NaN', 'not a plain number'],
    ['-', 'not a plain number'],
    ['1 000', 'not a plain number'],
    ['12 A', 'not a plain number'],
    ['-1', 'At least 0'],
    ['10000000', 'At most 9999999'],
    ['1000000000000000', 'At most 9999999'],
    ['1.5', 'Whole numbers only'],
    ['9'.repeat(41), 'At most 40 characters'],
  ])('“%s” is refused in words', (typed, says) => expect(faultOf(km, typed).says).toContain(says))

  test('what came twice is refused, not guessed', () => expect(faultOf(amps, ['1', '2']).says).toBe('This came twice.'))
})

describe('B27: days as they are typed', () => {
  const day = (form: FormReader) => form.date('field', { latest: '2026-11-25' })
  test.each(['2024-02-29', '2000-02-29', '1900-01-01', '2026-11-25'])('%s is a day', (typed) =>
    expect(faultOf(day, typed)).toEqual({ value: typed, says: '' }),
  )
  test.each([
    ['2026-02-30', 'no 2026-02-30 in the calendar'],
    ['2023-02-29', 'no 2023-02-29 in the calendar'],
    ['1900-02-29', 'no 1900-02-29 in the calendar'],
    ['2026-04-31', 'no 2026-04-31 in the calendar'],
    ['2026-13-01', 'no 2026-13-01 in the calendar'],
    ['2026-00-10', 'no 2026-00-10 in the calendar'],
    ['0000-01-01', 'no 0000-01-01 in the calendar'],
    ['9999-12-31', 'still to come'],
    ['2026-11-26', 'still to come'],
    ['03/04/2026', 'not a day as YYYY-MM-DD'],
    ['3.4.2026', 'not a day as YYYY-MM-DD'],
    ['2026-3-4', 'not a day as YYYY-MM-DD'],
    ['2026-11-25T12:00', 'not a day as YYYY-MM-DD'],
    ['２０２６-11-25', 'not a day as YYYY-MM-DD'],
    ['', 'Which day?'],
  ])('“%s” is refused in words', (typed, says) => expect(faultOf(day, typed).says).toContain(says))
})

test('B36: every way of reading a field takes at most in proportion to its length', () => {
  const reads: readonly ((form: FormReader) => unknown)[] = [
    (form) => form.text('field', { max: 1e9 }),
    (form) => form.number('field'),
    (form) => form.date('field', { latest: '2026-11-25' }),
    (form) => form.choice('field', ['a', 'b'], 'a'),
    (form) => form.ticked('field'),
  ]
  const steps = (letter: string, length: number, read: (form: FormReader) => unknown): number => {
    const typed = `${letter.repeat(length)}!`
    let best = Number.POSITIVE_INFINITY
    for (let n = 0; n < 5; n++) {
      const { user } = process.cpuUsage()
      for (let again = 0; again < 20; again++) faultOf(read, typed)
      best = Math.min(best, process.cpuUsage().user - user)
    }
    return best
  }
  // One backtracking over the square of 50,000 letters would take seconds.
  for (const read of reads)
    for (const letter of ['a', '1', ' ', '1,', '.', '-']) {
      const [half, whole] = [steps(letter, 25_000, read), steps(letter, 50_000, read)]
      if (whole > 100_000) expect(whole / half, `${letter} ${half} ${whole}`).toBeLessThan(3.5)
    }
})
