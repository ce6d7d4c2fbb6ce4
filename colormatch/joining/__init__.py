"""Joining: what each tile shows best, where seams run, and the picture block by block."""
