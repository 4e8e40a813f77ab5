"""The pages that people use at the bench: clients of the HTTP interface inside the same process."""
