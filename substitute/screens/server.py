"""The server that ``substitute app`` runs: the app's script, answering to this machine's own names alone.

A page from elsewhere that makes its name point at this machine gets nothing, neither a page nor a socket.
"""

from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from streamlit.starlette import App

from substitute.screens.settings import HOSTS, app_file

app = App(app_file(), middleware=[Middleware(TrustedHostMiddleware, allowed_hosts=list(HOSTS))])
