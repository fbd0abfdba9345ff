// A JupyterLab extension without a build step. A notebook whose metadata says {"sparebench": {"opens": "running"}}
// is run when it opens and shows its answers without its code; a button brings the code back.
(() => {
  const style = `
    body.shop-page .jp-Notebook .jp-CodeCell .jp-Cell-inputWrapper,
    body.shop-page .jp-Notebook .jp-OutputPrompt,
    body.shop-page .jp-Notebook .jp-Collapser,
    body.shop-page .jp-Notebook-footer,
    body.shop-page .jp-NotebookPanel-toolbar,
    body.shop-page .jp-SideBar, body.shop-page #jp-left-stack, body.shop-page #jp-main-statusbar { display: none !important }
    body.shop-page .jp-Notebook .jp-Cell { padding-block: 2px }
    body.shop-page .jp-Notebook .jp-cell-toolbar, body.shop-page .jp-Notebook .jp-InputPrompt { display: none }
    #shop-code { position: fixed; right: 20px; bottom: 20px; z-index: 50; padding: 6px 14px; cursor: pointer;
      border: 1px solid var(--jp-border-color1); border-radius: 4px;
      background: var(--jp-layout-color1); color: var(--jp-ui-font-color1); font: 13px var(--jp-ui-font-family) }`;

  const opensRunning = (panel) => panel?.content?.model?.getMetadata?.('sparebench')?.opens === 'running';

  // JupyterLab saves by the clock, and takes another save that is under way for a change on disk: it asks which of the
  // two shall count, and waits. So it does not save by itself (settings/overrides.json), and here is one save at a time.
  const keepSaved = async (panel) => {
    while (!panel.isDisposed) {
      if (panel.context.model.dirty) await panel.context.save();
      await new Promise((done) => setTimeout(done, 1000));
    }
  };

  const activate = (app) => {
    const sheet = document.createElement('style');
    sheet.textContent = style;
    document.head.append(sheet);

    const button = document.createElement('button');
    button.id = 'shop-code';
    button.hidden = true;
    document.body.append(button);
    const fold = (folded) => {
      document.body.classList.toggle('shop-page', folded);
      button.textContent = folded ? 'Show the code' : 'Fold the code away';
      button.setAttribute('aria-pressed', String(!folded));
    };
    button.onclick = () => fold(!document.body.classList.contains('shop-page'));

    const started = new WeakSet();
    const look = async () => {
      const panel = app.shell.currentWidget;
      await panel?.context?.ready;
      const isPage = opensRunning(panel);
      button.hidden = !isPage;
      fold(isPage);
      if (!isPage || started.has(panel)) return;
      started.add(panel);
      await panel.sessionContext.ready;
      await app.commands.execute('notebook:run-all-cells');
      await panel.context.save();
      document.body.dataset.shopPage = 'ran';
      keepSaved(panel);
    };
    app.restored.then(() => {
      look();
      app.shell.currentChanged?.connect(() => setTimeout(look, 0));
    });
  };

  const plugin = { id: 'sparebench-pages:plugin', autoStart: true, activate };
  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB['sparebench-pages'] = {
    init: () => {},
    get: () => Promise.resolve(() => ({ __esModule: true, default: plugin })),
  };
})();
