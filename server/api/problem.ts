/** What went wrong, as RFC 9457 says it: for programs a code in the address of `type`, for people a sentence. */
import { z } from 'zod'
import type { Refusal, Result } from '../records/contract.ts'

export type ApiFault = { readonly field: string; readonly says: string }

/** What can go wrong, with the status it answers and its title. Refusals of the records come with codes of their own. */
export const PROBLEMS = {
  'not-json': { status: 400, title: 'The body cannot be read' },
  'address-not-read': { status: 400, title: 'The address cannot be read' },
  'token-in-address': { status: 400, title: 'A token does not belong in an address' },
  'no-token': { status: 401, title: 'A token is needed' },
  'token-reads-only': { status: 403, title: 'This token only reads' },
  'not-found': { status: 404, title: 'There is no such thing here' },
  'no-such-method': { status: 405, title: 'This method is not answered' },
  'not-possible': { status: 409, title: 'It does not go with what is recorded' },
  'too-large': { status: 413, title: 'That is more than is taken at once' },
  'address-too-long': { status: 414, title: 'The address is longer than any here' },
  'not-taken': { status: 415, title: 'Only JSON in UTF-8 is taken' },
  'not-valid': { status: 422, title: 'Something in the request is not valid' },
  'key-used': { status: 422, title: 'This key was used for another request' },
  'not-our-day': { status: 500, title: 'Something went wrong on our side' },
  'in-use': { status: 503, title: 'The records are in use' },
  'nothing-written': { status: 503, title: 'Nothing is written at present' },
  damaged: { status: 503, title: 'Records are damaged' },
  'no-room': { status: 507, title: 'The disk is full' },
} as const
export type ProblemCode = keyof typeof PROBLEMS

export const problemSchema = z.strictObject({
  type: z.string().describe('An address that names this sort of problem; the guide explains it there.'),
  title: z.string(),
  status: z.int(),
  detail: z.string().describe('What went wrong here, in a sentence.'),
  code: z.string().optional().describe('The records’ own name of the refusal, where they refused.'),
  faults: z
    .array(
      z.strictObject({
        field: z.string().describe('The field as a path, such as changes.0.component.key; empty for the whole.'),
        says: z.string(),
        entryId: z.string().optional().describe('The entry that stands in the way.'),
      }),
    )
    .optional(),
})
export type ProblemBody = z.infer<typeof problemSchema>

export class Problem extends Error {
  readonly code: ProblemCode
  readonly more: Pick<ProblemBody, 'faults' | 'code'>
  constructor(code: ProblemCode, detail: string, more: Pick<ProblemBody, 'faults' | 'code'> = {}) {
    super(detail)
    this.code = code
    this.more = more
  }
}

export function problemBody(problem: Problem): ProblemBody {
  const { status, title } = PROBLEMS[problem.code]
  return { type: `/api-guide#${problem.code}`, title, status, detail: problem.message, ...problem.more }
}

export function notFound(what: string): Problem {
  return new Problem('not-found', `There is no such ${what} here.`)
}

/** The value of what was done, or the records' refusal as a problem. */
export function doneOr<T>(result: Result<T>): T {
  if (result.ok) return result.value
  throw problemOf(result.refusals)
}

export function problemOf(refusals: readonly Refusal[]): Problem {
  const [first] = refusals
  const status = first?.status ?? 422
  const code: ProblemCode = status === 404 ? 'not-found' : status === 409 ? 'not-possible' : status === 413 ? 'too-large' : 'not-valid'
  const faults = refusals.map(({ field, sentence, entryId }) => ({
    field: field ?? '',
    says: sentence,
    ...(entryId === undefined ? {} : { entryId }),
  }))
  return new Problem(code, first?.sentence ?? 'This is refused.', { faults, ...(first ? { code: first.code } : {}) })
}

/** Everything that a schema finds wrong, one fault for each field. */
export function readWith<T>(schema: z.ZodType<T>, given: unknown, what: string): T {
  const read = schema.safeParse(given)
  if (read.success) return read.data
  const faults = read.error.issues.slice(0, MOST_faults).flatMap(faultsOfIssue)
  throw new Problem('not-valid', `${what} is not as it should be: ${faults.length === 1 ? 'one fault' : `${faults.length} faults`}.`, {
    faults,
  })
}

const MOST_faults = 100

function faultsOfIssue(issue: z.core.$ZodIssue): readonly ApiFault[] {
  const path = issue.path.map(String).join('.')
  if (issue.code === 'unrecognized_keys')
    return issue.keys.slice(0, MOST_faults).map((key) => ({ field: path === '' ? key : `${path}.${key}`, says: 'There is no such field.' }))
  return [{ field: path, says: issue.message }]
}
