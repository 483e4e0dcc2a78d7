import { invoke } from '@tauri-apps/api/core'
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
    listFlights: () => ask('call', { name: 'list_flights', args: {} }),
    showFlight: (id) => ask('call', { name: 'show_flight', args: { id } }),
    locateFlight: (id, from) => ask('call', { name: 'locate_flight', args: args.locate(id, from) }),
    landingDensity: (id, part, mode) => ask('landing_density', { args: args.density(id, part, mode) }),
  }
}
