"""The policy under which a page that is not ours to style is shown by itself."""

from csp.constants import NONE, UNSAFE_INLINE

# SECURITY: an e-mail's styles stand in the e-mail, so its page allows them, and in return runs no script, loads
# nothing and sends no form.
MAIL_ALONE = {
    "default-src": [NONE],
    "style-src": [UNSAFE_INLINE],
    "base-uri": [NONE],
    "form-action": [NONE],
    "frame-ancestors": [NONE],
    "sandbox": [],
}
