# Not tried on a real computer yet.
# Puts firstwash into the Start menu of this person. Run by `firstwash install-launcher`, which
# passes the Python that runs firstwash.
param([Parameter(Mandatory = $true)][string]$Python)
$menu = [Environment]::GetFolderPath("Programs")
$shell = New-Object -ComObject WScript.Shell
$link = $shell.CreateShortcut((Join-Path $menu "firstwash.lnk"))
$link.TargetPath = $Python
$link.Arguments = "-m firstwash open"
$link.WorkingDirectory = [Environment]::GetFolderPath("MyDocuments")
$link.Description = "Plan a transparent watercolour"
$link.WindowStyle = 7
$link.Save()
