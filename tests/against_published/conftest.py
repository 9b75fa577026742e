from tests.plain_board import bench

__all__ = ["bench"]
