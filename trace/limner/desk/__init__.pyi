from .server.serve import serve_desk as serve_desk

__all__ = ["serve_desk"]
