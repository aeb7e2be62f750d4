import type { FastifyInstance } from 'fastify';

export interface Route {
  method: string;
  /** As it was registered: /bins/:code/photos. */
  url: string;
}

/** Every route, from the server's own list: a tree, one line for each piece of an address. */
export function routesOf(app: FastifyInstance): Route[] {
  const above: string[] = [];
  return app
    .printRoutes({ commonPrefix: false })
    .split('\n')
    .flatMap((line) => {
      const [, indent = '', piece = '', methods = ''] = /^([│ ]*)[├└]── (\S*)(?: \((.*)\))?$/.exec(line) ?? [];
      if (piece === '') return [];
      const depth = indent.length / 4;
      above[depth] = (depth === 0 ? '' : (above[depth - 1] ?? '')) + piece;
      const url = (above[depth] ?? '').replace(/^\/\//, '/');
      return methods === '' ? [] : methods.split(', ').map((method) => ({ method, url }));
    });
}
