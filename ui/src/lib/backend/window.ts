import { invoke } from '@tauri-apps/api/core'
import { jsonCalls } from './calls'
import { args, Refusal, type Backend } from './client'

/** The core in the same process, behind the window. */
export function windowBackend(): Backend {
  const ask = async <T>(command: string, payload: Record<string, unknown>): Promise<T> => {
    try {
      return await invoke<T>(command, payload)
    } catch (thrown) {
      throw Refusal.from(thrown)
    }
  }
  return {
    ...jsonCalls((name, body) => ask('call', { name, args: body })),
    landingDensity: (id, part, mode) => ask('landing_density', { args: args.density(id, part, mode) }),
  }
}
