import { join } from 'node:path';
import type { CallInput, CallName, CallOutput } from '../../../../app/shell/contract/calls.ts';
import type { FaultView } from '../../../../app/shell/contract/desk-view.ts';
import type { DeskEvent } from '../../../../app/shell/contract/events.ts';
import { DeskHost } from '../../../../app/shell/host/desk-host.ts';
import { WorkPool } from '../../../../app/work/pool.ts';
import { freshFolder } from '../../desk/desk-kit.ts';

/** A desk without a door: calls whose faults are thrown, and the events it told. */
export interface TestDesk {
  readonly host: DeskHost;
  readonly home: string;
  readonly events: DeskEvent[];
  call<Name extends CallName>(name: Name, input: CallInput<Name>): Promise<CallOutput<Name>>;
  faultOf<Name extends CallName>(name: Name, input: CallInput<Name>): Promise<FaultView>;
  /** All bytes of a media route. */
  bytes(route: string): Promise<Uint8Array>;
  idle(): Promise<void>;
}

export function testDesk(home = freshFolder(), makePool = () => new WorkPool(0)): TestDesk {
  const host = new DeskHost({
    door: 'browser',
    version: '0.0.0',
    homeFolder: home,
    configFolder: join(home, 'config'),
    makePool,
  });
  const events: DeskEvent[] = [];
  host.onEvent((event) => events.push(event));
  return {
    host,
    home,
    events,
    async call(name, input) {
      const answer = await host.call(name, input);
      if (!answer.ok) throw new Error(`${name}: ${answer.fault.message} (${answer.fault.code})`);
      return answer.value as never;
    },
    async faultOf(name, input) {
      const answer = await host.call(name, input);
      if (answer.ok) throw new Error(`${name} was not refused`);
      return answer.fault;
    },
    async bytes(route) {
      const media = await host.media(route);
      if (media === null) throw new Error(`there is no ${route}`);
      const parts: Uint8Array[] = [];
      for await (const part of media.read(0, media.totalBytes, new AbortController().signal)) parts.push(part);
      return Buffer.concat(parts);
    },
    idle: async () => host.live?.idle(),
  };
}

export function floatsOf(bytes: Uint8Array): Float32Array {
  return new Float32Array(Uint8Array.from(bytes).buffer);
}
