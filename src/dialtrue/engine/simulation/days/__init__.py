"""Measured draws of water on 157 days that the invented homes borrow; see NOTICE beside this file."""
