/** Which problems an operation can answer, told from what it is: so that the description of none has to be kept by hand. */
import type { Operation } from './operation.ts'
import { PROBLEMS, type ProblemCode } from './problem.ts'

export type ToldProblems = { readonly status: number; readonly codes: readonly [ProblemCode, ...ProblemCode[]] }
/** What of an operation matters here; nothing of it for one that only reads and asks for nothing. */
type Traits = Partial<Pick<Operation, 'path' | 'writes' | 'body' | 'answer' | 'isOnce' | 'mayClash' | 'makesFile'>>

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

/** By status, in the order of the statuses. */
export function problemsOf(one: Traits): readonly ToldProblems[] {
  const byStatus = new Map<number, [ProblemCode, ...ProblemCode[]]>()
  for (const code of Object.keys(PROBLEMS) as ProblemCode[]) {
    if (!WHEN[code](one)) continue
    const known = byStatus.get(PROBLEMS[code].status)
    if (known) known.push(code)
    else byStatus.set(PROBLEMS[code].status, [code])
  }
  return [...byStatus].map(([status, codes]) => ({ status, codes })).sort((one, other) => one.status - other.status)
}
