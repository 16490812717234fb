/** Which problems an operation can answer, told from what it is: so that the description of none has to be kept by hand. */
import type { Answered, Headers } from './description.ts'
import type { Operation } from './operation.ts'
import { PROBLEMS, type ProblemCode } from './problem.ts'

type ToldProblems = { readonly status: number; readonly codes: readonly [ProblemCode, ...ProblemCode[]] }
/** What of an operation matters here; nothing of it for one that only reads and asks for nothing. */
type Traits = Partial<Pick<Operation, 'path' | 'writes' | 'body' | 'isOnce' | 'mayClash' | 'makesFile'>>

/** The answers of one operation by status. What is answered alike in several is said once, and pointed to. */
export function problemsTold(one: Traits): Record<string, { readonly $ref: string }> {
  return Object.fromEntries(problemsOf(one).map((told) => [told.status, { $ref: `#/components/responses/${nameOf(told)}` }]))
}

/** All that is pointed to, by name. */
export function problemAnswers(all: readonly Traits[]): Record<string, Answered> {
  return Object.fromEntries(all.flatMap(problemsOf).map((told) => [nameOf(told), problemAnswer(told)]))
}

const isAnyOne = () => true
const hasId = ({ path }: Traits) => path?.includes(':id') === true
const hasBody = ({ body }: Traits) => body !== undefined
const isWriting = ({ writes }: Traits) => writes === true

const WHEN: Readonly<Record<ProblemCode, (one: Traits) => boolean>> = {
  'not-json': hasBody,
  // The address of an operation without an id is fixed.
  'address-not-read': hasId,
  'token-in-address': isAnyOne,
  'no-token': isAnyOne,
  'token-reads-only': isWriting,
  'not-found': hasId,
  // Of an address and not of an operation.
  'no-such-method': () => false,
  'not-possible': ({ mayClash }) => mayClash === true,
  'too-large': hasBody,
  'address-too-long': hasId,
  'not-taken': hasBody,
  // Also what asks for nothing refuses a query.
  'not-valid': ({ path }) => path !== undefined,
  'key-used': ({ isOnce }) => isOnce === true,
  'not-our-day': isAnyOne,
  'in-use': isAnyOne,
  'nothing-written': isWriting,
  damaged: isAnyOne,
  'no-room': (one) => isWriting(one) || one.makesFile === true,
}

const HEADERS_OF: Readonly<Record<number, Headers>> = {
  401: { 'www-authenticate': { description: 'How to show a token (RFC 6750).', schema: { type: 'string' } } },
  415: {
    'accept-encoding': {
      description: 'There where a Content-Encoding was the reason: what would be taken (RFC 9110, 12.5.3).',
      schema: { const: 'identity' },
    },
  },
  503: { 'retry-after': { description: 'Seconds to wait before trying again.', schema: { type: 'string', pattern: '^[0-9]+$' } } },
}

/** By status, in the order of the statuses. */
function problemsOf(one: Traits): readonly ToldProblems[] {
  const byStatus = new Map<number, [ProblemCode, ...ProblemCode[]]>()
  for (const code of Object.keys(PROBLEMS) as ProblemCode[]) {
    if (!WHEN[code](one)) continue
    const known = byStatus.get(PROBLEMS[code].status)
    if (known) known.push(code)
    else byStatus.set(PROBLEMS[code].status, [code])
  }
  return [...byStatus].map(([status, codes]) => ({ status, codes })).sort((one, other) => one.status - other.status)
}

function nameOf({ status, codes }: ToldProblems): string {
  return ['Problem', status, ...codes].join('_').replaceAll('-', '_')
}

function problemAnswer({ status, codes }: ToldProblems): Answered {
  const [first] = codes
  const headers = HEADERS_OF[status]
  const example = { type: `/api-guide#${first}`, ...PROBLEMS[first], detail: `${PROBLEMS[first].title}.` }
  return {
    description: codes.map((code) => `${code}: ${PROBLEMS[code].title}.`).join(' '),
    ...(headers && { headers }),
    content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' }, example } },
  }
}
