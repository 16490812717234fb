/** Where such a process begins when the sources themselves are run. Plain JavaScript: it starts without what they are run by. */
import { register } from 'tsx/esm/api'

register()
await import('./night-process.ts')
