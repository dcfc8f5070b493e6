/** Small help on every page: after a refused form, the list of errors gets the focus, so that it is read first. */

document.querySelector("[data-error-summary]")?.focus();
