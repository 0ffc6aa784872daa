"""A course of about twenty people on one machine; see “JupyterHub” in ``binder/README.md``.

    cd hub && jupyterhub -f ../binder/hub/jupyterhub_config.py

What differs from place to place comes from the environment, with what is used if it is left out.
"""

# ruff: noqa: F821  (get_config is given by JupyterHub)

import os
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from course_hub.spawning import SystemSpawner, TrialSignIn, TrialSpawner  # noqa: E402

ADDRESS = os.environ.get("COURSE_HUB_ADDRESS", "http://127.0.0.1:8000")
ACCOUNTS = os.environ.get("COURSE_HUB_ACCOUNTS", "trial")
"""“trial”: any name, no password, this machine alone; “system”: accounts of this machine."""
FOLDER = Path(os.environ.get("COURSE_HUB_FOLDER", "hub")).resolve()
"""Holds the state of the hub and, with “trial”, a folder for each person."""
PROXY = os.environ.get("COURSE_HUB_PROXY", "configurable-http-proxy")
AT_ONCE = int(os.environ.get("COURSE_HUB_AT_ONCE", str(os.cpu_count() or 1)))
"""Servers, and kernels, that may start at a time; 0: all at once."""
MEMORY_MIB = int(os.environ.get("COURSE_HUB_MEMORY_MIB", "1024"))
"""Of each process; a server takes 100, a kernel with the screens 100."""
KERNELS = 4
PEOPLE = 40
IDLE_SERVER_S, IDLE_KERNEL_S = 3600, 1200

if ACCOUNTS not in ("trial", "system"):
    raise SystemExit(f"No such accounts. Given: {ACCOUNTS}. Allowed: trial or system.")

c = get_config()
state, people = FOLDER / "state", FOLDER / "people"
for folder in (state, people, FOLDER / "places"):
    folder.mkdir(parents=True, exist_ok=True)
(FOLDER / "places").chmod(0o1777)  # the servers of all people lock files there
state.chmod(0o700)

c.JupyterHub.bind_url = ADDRESS
c.JupyterHub.hub_ip = "127.0.0.1"
c.JupyterHub.hub_port = int(os.environ.get("COURSE_HUB_INNER_PORT", "8081"))
c.ConfigurableHTTPProxy.api_url = os.environ.get("COURSE_HUB_PROXY_API", "http://127.0.0.1:8001")
c.ConfigurableHTTPProxy.command = PROXY.split()
c.ConfigurableHTTPProxy.pid_file = str(state / "proxy.pid")
c.JupyterHub.db_url = f"sqlite:///{state / 'hub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(state / "cookie_secret")

# Who may come in, and as whom
if ACCOUNTS == "trial":
    c.JupyterHub.authenticator_class = TrialSignIn
    c.JupyterHub.spawner_class = TrialSpawner
    c.SimpleLocalProcessSpawner.home_dir_template = str(people / "{username}")
else:
    c.JupyterHub.authenticator_class = "pam"
    c.JupyterHub.spawner_class = SystemSpawner
    c.LocalAuthenticator.create_system_users = False
    c.Authenticator.allow_existing_users = True
    c.InTurn.processes = 300

# One after the other, with a page that says how many come before
c.InTurn.places = AT_ONCE or PEOPLE
c.InTurn.memory_MiB = MEMORY_MIB
c.InTurn.kept = str(state / "handed-out")
c.Spawner.start_timeout = 600
c.Spawner.http_timeout = 60
c.JupyterHub.concurrent_spawn_limit = PEOPLE
c.JupyterHub.active_server_limit = PEOPLE
c.JupyterHub.tornado_settings = {"slow_spawn_timeout": 0}
c.JupyterHub.implicit_spawn_seconds = 1  # a link to one notebook starts the server too

# Each person's server; options of the command line stand above files in the person's folder
c.Spawner.cmd = [sys.executable, "-m", "jupyterhub.singleuser"]
c.Spawner.default_url = "/lab"
c.Spawner.environment = {
    "PYTHONPATH": os.pathsep.join(filter(None, (str(HERE), os.environ.get("PYTHONPATH")))),
    # libraries would start a thread for each core, and each takes memory
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MALLOC_ARENA_MAX": "2",
}
c.Spawner.args = [
    "--ServerApp.kernel_manager_class=course_hub.kernels.Kernels",
    f"--Kernels.places={AT_ONCE or PEOPLE}",
    f"--Kernels.folder={FOLDER / 'places'}",
    f"--Kernels.most={KERNELS}",
    f"--MappingKernelManager.cull_idle_timeout={IDLE_KERNEL_S}",
    "--MappingKernelManager.cull_interval=60",
    "--ServerApp.terminals_enabled=False",
]
if ACCOUNTS == "trial" and os.geteuid() == 0:
    c.Spawner.args += ["--allow-root"]

# Servers that nobody uses are ended
c.JupyterHub.load_roles = [
    {
        "name": "idle",
        "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"],
        "services": ["idle"],
    }
]
c.JupyterHub.services = [
    {
        "name": "idle",
        "command": [
            sys.executable,
            "-m",
            "jupyterhub_idle_culler",
            f"--timeout={IDLE_SERVER_S}",
            "--cull-every=300",
        ],
    }
]
