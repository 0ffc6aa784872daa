"""A course on a JupyterHub: who may sign in from where, servers and kernels one after the other."""
