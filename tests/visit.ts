import type { FastifyInstance, InjectOptions } from 'fastify';
import { COOKIE } from '../server/access/visitor.ts';

/** Where a browser is, and by what name it asks. */
export interface From {
  host: string;
  remoteAddress: string;
  headers?: Readonly<Record<string, string>>;
}

/** One browser: its address, the name it asks for, its cookie, and the token in the forms it was given. */
export class Browser {
  cookie = '';
  formToken = '';
  readonly #app: () => FastifyInstance;
  readonly #from: From;

  constructor(app: () => FastifyInstance, from: From) {
    this.#app = app;
    this.#from = from;
  }

  async send(options: InjectOptions) {
    const { host, remoteAddress, headers } = this.#from;
    const cookie = this.cookie === '' ? {} : { cookie: `${COOKIE}=${this.cookie}` };
    const answer = await this.#app().inject({
      remoteAddress,
      ...options,
      headers: { host, ...headers, ...cookie, ...options.headers },
    });
    const [given] = answer.cookies;
    if (given !== undefined) this.cookie = given.value;
    this.formToken = /name="formToken" value="([^"]+)"/.exec(answer.body)?.[1] ?? this.formToken;
    return answer;
  }

  get = (url: string) => this.send({ method: 'GET', url });

  post(url: string, fields: Record<string, string>, headers: Record<string, string> = {}) {
    const scheme = this.#from.headers?.['x-forwarded-proto'] ?? 'http';
    return this.send({
      method: 'POST',
      url,
      headers: {
        origin: `${scheme}://${this.#from.host}`,
        'content-type': 'application/x-www-form-urlencoded',
        ...headers,
      },
      payload: new URLSearchParams({ formToken: this.formToken, ...fields }).toString(),
    });
  }

  /** Opens the sign-in page and gives the passphrase. */
  async signIn(passphrase: string, device: string, more: Record<string, string> = {}) {
    await this.get('/sign-in');
    return this.post('/sign-in', { passphrase, device, ...more });
  }
}
