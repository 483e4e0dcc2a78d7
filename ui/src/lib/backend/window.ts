import { invoke } from '@tauri-apps/api/core'
import { allCalls } from './calls'
import { Refusal, type Backend } from './client'

/** The core in the same process, behind the window. */
export function windowBackend(): Backend {
  const ask = async <T>(command: string, payload: Record<string, unknown>): Promise<T> => {
    try {
      return await invoke<T>(command, payload)
    } catch (thrown) {
      throw Refusal.from(thrown)
    }
  }
  const call = <T>(name: string, body: object) => ask<T>('call', { name, args: body })
  return allCalls(call, (name, body) => call<ArrayBuffer>(name, body))
}
