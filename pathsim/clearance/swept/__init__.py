"""The fast engine: continuous collision detection by swept volumes, in compiled kernels.

Branch and bound over two trees at once: a BVH over the triangles of the piece, and a BVH over time
whose nodes bound the motion. Each pair of nodes is a swept sphere or swept OBB, bounded from below
against the AABB tree of the obstacle. Read in this order: ``geometry/bvh.py``,
``geometry/triangle_distance.py``, ``motion_bound.py``, ``swept_pose.py``, ``box_bound.py``,
``triangle_bound.py``, ``leaf_bound.py``, ``search_node.py``, ``search.py``.
"""
