export { html, type SafeHtml } from '@remix-run/html-template';
