/** Every operation, in the order the guide tells them. */
import { entryOperations } from './entries.ts'
import type { Operation } from './operation.ts'
import { partOperations } from './parts.ts'
import { photoOperations } from './photos.ts'
import { vehicleOperations } from './vehicles.ts'

export const operations: readonly Operation[] = [...vehicleOperations, ...entryOperations, ...partOperations, ...photoOperations]
