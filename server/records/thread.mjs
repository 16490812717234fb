/** Where a thread begins when the sources themselves are run. Plain JavaScript: a thread starts without what they are run by. */
import { register } from 'tsx/esm/api'

register()
await import('./thread.ts')
